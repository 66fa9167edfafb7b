"""English phrases that show what a sentence speaks of and what it only sets that against."""

import re

REFERENCE = re.compile(
    r"(?:\b(?:than|against|from|over|below|above|under|to|versus|vs|like|as|unlike|instead of|rather than|not|between|"
    r"beyond|relative to|compared with|until|before|after|since|without|down|by|or|and|of)\s+"
    r"(?:the\s+|a\s+|an\s+|its\s+)?(?:(?:power\s+)?(?:limit|offset|setting)\s+of\s+)?)$"
)
"""Before a name: it is what something is set against, not what is spoken of."""
NEW_CLAUSE = re.compile(r"[;:!?—]|\b(?:but|while|whereas|where|which|that|although|though|because)\b")
BEHIND = re.compile(r"^[\s\u00a0\u202f]*(?:[\w%°/]+[\s\u00a0\u202f]+){0,3}(?:at|in|with|on)\s+(?:the\s+|a\s+)?$")
"""Between a link and a name behind it: "[165 W](…) at stock"."""
CLAUSE_START = re.compile(r"[,;:!?—]\s*|\b(?:and|but|while|whereas|that|which|because)\s+")
LEAD = re.compile(
    r"\s*(?:the\s+|a\s+|an\s+|at\s+)?(\w+)(?:\s+(?:card|setting|setpoint|runs?|configuration))?\s+"
    r"(?:draws?|drew|uses?|used|takes?|took|saves?|saved|needs?|needed|is|was|runs?|ran|scores?|scored|makes?|made|does|"
    r"did|loses?|lost|gains?|gained|keeps?|kept|costs?|gives?|gave|has|had|turns?|turned|stays?|stayed|spares?)\b"
)
"""A name as the subject of its clause."""
LEADS_A_REFERENCE = re.compile(r"\b(?:than|against|from|versus|vs|instead of|not|of)\s+(?:the\s+)?$")
