/* The method of the worksheet: runs in, figures of each setting, the next step, and the trials file out.
   Knows no page. A session is {about, runs}; a run holds what was typed, as text. */
(function () {
  'use strict';

  const numbers = window.worksheetNumbers;

  const COLUMNS = [
    'trial', 'power_limit_pct', 'voltage_offset_mv', 'sequence', 'outcome', 'score', 'board_power_w', 'core_clock_mhz',
    'core_temp_c', 'hotspot_temp_c', 'ambient_c', 'fan_rpm', 'duration_s', 'driver', 'excluded', 'note'
  ];
  const NUMERIC = COLUMNS.slice(1, 3).concat(COLUMNS.slice(5, 13));
  const MEASURED = COLUMNS.slice(5, 13);
  const OUTCOMES = ['completed', 'crashed', 'artefacts', 'hung', 'aborted'];
  /* An aborted run was stopped by its tester and shows nothing either way. */
  const FAILURES = ['crashed', 'artefacts', 'hung'];
  const SOAK = 'soak';

  const FEWEST = 3, GOOD = 5, MOST = 12;
  const ABOUT = {
    card: '', load: '', alias: '', driver: '', stock_board_power_w: '', power_low_pct: '50', offset_step_mv: '20',
    offset_floor_mv: '-200', limit_step_pct: '4', margin_pct: '1', soak_hours: '2', better: 'higher',
    score_unit: 'points', confidence_pct: '95'
  };

  function value(run, column) {
    return run[column] === undefined || run[column] === '' ? null : Number(run[column]) + 0;
  }

  function decimalsOf(text) {
    const parts = text.toLowerCase().split('e');
    return Math.max(0, (parts[0].split('.')[1] || '').length - Number(parts[1] || 0));
  }

  function counts(run) { return run.outcome === 'completed' && !run.excluded; }

  function failed(run) { return FAILURES.includes(run.outcome) && !run.excluded; }

  /* --- Figures of each setting --- */

  function column(runs, name) {
    const typed = runs.filter(counts).map(function (run) { return run[name]; }).filter(Boolean);
    const found = numbers.moments(typed.map(Number));
    found.decimals = typed.length ? Math.max.apply(null, typed.map(decimalsOf)) : null;
    return found;
  }

  /* Runs by their settings, soaks apart, in the order first made. */
  function settings(runs) {
    const groups = [];
    runs.forEach(function (run) {
      const limit = value(run, 'power_limit_pct'), offset = value(run, 'voltage_offset_mv');
      const soak = run.sequence === SOAK;
      let group = groups.find(function (g) { return g.limit === limit && g.offset === offset && g.soak === soak; });
      if (!group) {
        group = { limit: limit, offset: offset, soak: soak, runs: [] };
        groups.push(group);
      }
      group.runs.push(run);
    });
    groups.forEach(function (group) {
      group.completed = group.runs.filter(counts).length;
      group.failed = group.runs.filter(failed).length;
      group.columns = {};
      MEASURED.forEach(function (name) { group.columns[name] = column(group.runs, name); });
    });
    return groups;
  }

  function isStock(group) { return group.limit === 100 && group.offset === 0 && !group.soak; }

  /* Everything the page prints about the settings. Intervals come from repeats alone. */
  function figures(session) {
    const about = Object.assign({}, ABOUT, session.about);
    const confidence = Number(about.confidence_pct) / 100;
    const groups = settings(session.runs), stock = groups.find(isStock) || null;
    return groups.map(function (group) { return figuresOf(group, stock, about, confidence); });
  }

  function mean(of, unit, confidence) {
    return numbers.printed(of.mean, unit, numbers.meanInterval(of, confidence), of.decimals);
  }

  function wider(a, b) {
    return a.decimals === null || b.decimals === null ? null : Math.max(a.decimals, b.decimals);
  }

  function change(a, b, unit, confidence) {
    const found = numbers.difference(a, b, confidence);
    return found ? numbers.printed(found.value, unit, found.interval, wider(a, b)) : numbers.printed(null, '', null);
  }

  function figuresOf(group, stock, about, confidence) {
    const score = group.columns.score, power = group.columns.board_power_w, core = group.columns.core_temp_c;
    const none = numbers.printed(null, '', null);
    const found = {
      limit: group.limit, offset: group.offset, soak: group.soak, completed: group.completed, failed: group.failed,
      stock: isStock(group),
      score: mean(score, about.score_unit, confidence),
      spread: score.spread ? numbers.printed(score.spread, about.score_unit, null, null, score.spread) : none,
      power: mean(power, 'W', confidence),
      core: mean(core, '°C', confidence),
      ofStock: none, saved: none, cooler: none, same: null
    };
    if (stock && !found.stock && !found.soak) {
      const share = numbers.percentOf(score, stock.columns.score, confidence);
      if (share) { found.ofStock = numbers.printed(share.value, '%', share.interval, null); }
      found.saved = change(stock.columns.board_power_w, power, 'W', confidence);
      found.cooler = change(stock.columns.core_temp_c, core, 'K', confidence);
      found.same = sameAs(group, stock, about, confidence);
    }
    return found;
  }

  /* Whether a setting scores the same as stock: never said of fewer than three runs on either side. */
  function sameAs(group, stock, about, confidence) {
    const mine = group.columns.score, theirs = stock.columns.score;
    if (mine.runs < FEWEST || theirs.runs < FEWEST) { return { decision: 'too few runs', range: '' }; }
    const found = numbers.sameWithin(mine, theirs, Number(about.margin_pct), 1 - confidence);
    if (!found) { return { decision: 'no spread', range: '' }; }
    const shown = numbers.printed(found.change, '%', found);
    return { decision: found.decision, range: shown.interval, change: found.change };
  }

  /* --- The next step --- */

  function step(code, title, text, extra) {
    return Object.assign({ code: code, title: title, text: text }, extra);
  }

  function mv(offset) { return numbers.withUnit(numbers.typeset(String(offset)), 'mV'); }
  function pct(limit) { return numbers.withUnit(numbers.typeset(String(limit)), '%'); }
  function tidy(number) { return Number(number.toFixed(6)) + 0; }
  function times(count, word) { return count + ' ' + word + (count === 1 ? '' : 's'); }

  function nextStep(session) {
    const about = Object.assign({}, ABOUT, session.about);
    const plan = {
      about: about,
      runs: session.runs,
      groups: settings(session.runs),
      confidence: Number(about.confidence_pct) / 100,
      step: Number(about.offset_step_mv),
      floor: Number(about.offset_floor_mv),
      down: Number(about.limit_step_pct),
      low: Number(about.power_low_pct),
      sign: about.better === 'lower' ? -1 : 1
    };
    plan.stock = plan.groups.find(isStock) || null;
    return atStock(plan) || ladder(plan) || walk(plan) || afterwards(plan) || soak(plan) || done(plan);
  }

  function at(plan, limit, offset) {
    return plan.groups.find(function (g) { return g.limit === limit && g.offset === offset && !g.soak; }) || null;
  }

  function atStock(plan) {
    const done = plan.stock ? plan.stock.completed : 0;
    if (plan.stock && plan.stock.failed) {
      return step('stop', 'Stop: a run failed at stock',
        'A card that fails as delivered has a fault, or the load has. Find that first; there is nothing to tune yet.');
    }
    const begun = plan.groups.some(function (g) { return !isStock(g); });
    if (done >= GOOD || (begun && done >= FEWEST)) { return null; }
    const few = done < FEWEST
      ? 'Without at least three runs nobody knows how far the score moves by itself, and nothing can be compared.'
      : 'Three runs will do; five show the spread better. You may go on to a lower voltage now.';
    return step('stock', 'Run at stock: ' + (done + 1) + ' of ' + GOOD,
      'Power limit 100 %, no offset. Let the card warm up once, then rest it equally long before every run. ' + few,
      { limit: 100, offset: 0 });
  }

  /* What failed nearest to stock, what completed furthest from it, and where that leaves the offset. */
  function reach(plan) {
    const offsets = plan.groups.filter(function (g) { return g.offset < 0; });
    const broken = offsets.filter(function (g) { return g.failed; }).map(function (g) { return g.offset; });
    plan.failedAt = broken.length ? Math.max.apply(null, broken) : null;
    const whole = offsets.filter(function (g) {
      return g.completed && (plan.failedAt === null || g.offset > plan.failedAt);
    }).map(function (g) { return g.offset; });
    plan.deepest = whole.length ? Math.min.apply(null, whole) : 0;
    plan.offset = Math.min(0, tidy(plan.deepest + plan.step));
  }

  function ladder(plan) {
    reach(plan);
    const next = tidy(plan.deepest - plan.step);
    if (plan.failedAt !== null || next < plan.floor) { return null; }
    return step('ladder', 'Lower the voltage to ' + mv(next),
      'One run at a power limit of 100 %. Write down how it ended, whatever that is. Go on until a run fails: a black ' +
      'screen, a hang, wrong colours, a driver that restarts. Save your work first.', { limit: 100, offset: next });
  }

  function backedOff(plan) {
    if (plan.failedAt === null) {
      return 'You reached ' + mv(plan.deepest) + ', the deepest you meant to try, without a failure, so nobody knows how ' +
        'far off one is. One step back to ' + mv(plan.offset) + '. ';
    }
    const kept = plan.deepest < 0 ? mv(plan.deepest) + ' completed' : 'nothing below stock voltage completed';
    return 'A run failed at ' + mv(plan.failedAt) + '; ' + kept + '. Back off to ' + mv(plan.offset) + ' and stay there: ' +
      'heat, age and other programs need more voltage than this one. ';
  }

  /* How a setting's score stands to stock: 1 better, 0 told apart neither way, -1 worse; by means with few runs. */
  function verdict(plan, group) {
    const same = sameAs(group, plan.stock, plan.about, plan.confidence);
    if (same.decision === 'shown') { return 'same'; }
    if (same.decision === 'refuted') { return same.change * plan.sign > 0 ? 'better' : 'worse'; }
    return same.decision === 'too few runs' ? 'few' : 'open';
  }

  function keepsUp(plan, group) {
    const change = (group.columns.score.mean - plan.stock.columns.score.mean) * plan.sign;
    return verdict(plan, group) === 'same' || change >= 0;
  }

  function walk(plan) {
    for (;;) {
      const full = at(plan, 100, plan.offset);
      if (plan.offset === 0 || !full || verdict(plan, full) !== 'worse') { break; }
      // The card completes there but has slowed itself down: that offset is no good either.
      plan.offset = Math.min(0, tidy(plan.offset + plan.step));
    }
    const tried = plan.groups.filter(function (g) { return g.offset === plan.offset && !g.soak && g.completed; })
      .sort(function (a, b) { return b.limit - a.limit; });
    if (!at(plan, 100, plan.offset) || !at(plan, 100, plan.offset).completed) {
      return step('walk', 'Run once at ' + mv(plan.offset) + ', power limit ' + pct(100),
        backedOff(plan) + 'This is the start of the walk down the power limit.', { limit: 100, offset: plan.offset });
    }
    const good = tried.filter(function (g) { return g.limit <= 100 && keepsUp(plan, g) && verdict(plan, g) !== 'worse'; });
    const lowest = good[good.length - 1] || tried[0];
    const below = tried.filter(function (g) { return g.limit < lowest.limit; });
    const next = tidy(lowest.limit - plan.down);
    if (!below.length && next >= plan.low && keepsUp(plan, lowest)) {
      return step('walk', 'Lower the power limit to ' + pct(next),
        (tried.length === 1 ? backedOff(plan) : '') + 'At ' + pct(lowest.limit) + ' the score is still at or above stock. ' +
        'Go on until it falls below, then take the last limit before that.', { limit: next, offset: plan.offset });
    }
    plan.choice = lowest;
    return repeat(plan, lowest);
  }

  function repeat(plan, choice) {
    const where = pct(choice.limit) + ' and ' + mv(choice.offset), found = verdict(plan, choice);
    const wanted = { limit: choice.limit, offset: choice.offset };
    if (isStock(choice)) { return null; }
    if (choice.completed < GOOD && found !== 'same') {
      return step('repeat', 'Repeat ' + where + ': ' + (choice.completed + 1) + ' of ' + GOOD,
        'This is the lowest power limit whose score keeps up with stock. ' + (choice.completed < FEWEST
          ? 'With ' + times(choice.completed, 'run') + ' nobody can say that two scores are equal.'
          : 'More runs may settle whether it is equal to stock.') + ' Put a stock run in between now and then.', wanted);
    }
    if (found === 'open' && choice.completed < MOST) {
      const more = plan.stock.completed < choice.completed;
      return step('repeat', 'Not settled yet: one more run at ' + (more ? 'stock' : where),
        'The runs fit both “equal to stock within ' + pct(plan.about.margin_pct) + '” and “not equal”. Alternate with stock.',
        more ? { limit: 100, offset: 0 } : wanted);
    }
    return null;
  }

  function afterwards(plan) {
    if (isStock(plan.choice)) { return null; }
    const first = plan.runs.indexOf(plan.choice.runs[0]);
    const after = plan.runs.filter(function (run, place) {
      return place > first && counts(run) && plan.stock.runs.includes(run);
    }).length;
    if (after >= 2) { return null; }
    return step('stock-after', 'Run stock again: ' + (after + 1) + ' of 2',
      'Stock before and after shows whether the room, the card or the driver changed meanwhile. Without it a drift looks ' +
      'like a gain.', { limit: 100, offset: 0 });
  }

  function soakedHours(plan) {
    return plan.runs.filter(function (run) {
      return run.sequence === SOAK && counts(run) && value(run, 'power_limit_pct') === plan.choice.limit &&
        value(run, 'voltage_offset_mv') === plan.choice.offset;
    }).reduce(function (sum, run) { return sum + (value(run, 'duration_s') || 0) / 3600; }, 0);
  }

  function bound(plan, hours) {
    const rate = numbers.zeroFailureRate(hours, plan.confidence);
    return 'No failure in ' + numbers.printed(hours, 'h', null).text + ' of soaking leaves up to ' +
      numbers.printed(rate, 'per hour', null, null, rate).text + ' possible (' + plan.about.confidence_pct + ' % confidence).';
  }

  function soak(plan) {
    if (isStock(plan.choice)) { return null; }
    const hours = soakedHours(plan), goal = Number(plan.about.soak_hours);
    if (hours >= goal) { return null; }
    const where = pct(plan.choice.limit) + ' and ' + mv(plan.choice.offset);
    return step('soak', 'Soak at ' + where,
      'Run the load, and everything you use the card for, for ' + numbers.withUnit(String(goal), 'h') + ' or more, and enter ' +
      'each stretch as a soak with its length. ' + (hours > 0 ? bound(plan, hours) + ' ' : '') +
      'One failure means one step back.', { limit: plan.choice.limit, offset: plan.choice.offset, soak: true });
  }

  function done(plan) {
    if (isStock(plan.choice)) {
      return step('done', 'Stop here: stock is your setting',
        'Neither a lower voltage nor a lower power limit kept the score on this card. That is a result; send it in.');
    }
    const found = verdict(plan, plan.choice);
    const said = {
      same: 'Its score is equal to stock within ' + pct(plan.about.margin_pct) + '. ',
      better: 'Its score is above stock. ',
      worse: 'Its score is below stock by more than ' + pct(plan.about.margin_pct) + '. ',
      open: 'Whether its score equals stock is not settled: the runs spread too far for a margin of ' +
        pct(plan.about.margin_pct) + '. Do not call it equal. '
    }[found] || 'There are too few runs to call it equal to stock. ';
    return step('done', 'Stop here: ' + pct(plan.choice.limit) + ' and ' + mv(plan.choice.offset),
      said + bound(plan, soakedHours(plan)) + ' Look again after a change of driver, season or dust.',
      { limit: plan.choice.limit, offset: plan.choice.offset });
  }

  /* --- Files --- */

  function cell(text) {
    return /[",\n\r]/.test(text) ? '"' + text.replace(/"/g, '""') + '"' : text;
  }

  /* trials.csv as sites take it in: names of columns carry their units, every run a row, failed ones too. */
  function toCsv(session) {
    const lines = [COLUMNS.join(',')];
    session.runs.forEach(function (run, place) {
      const row = Object.assign({}, run, {
        trial: 'w' + String(place + 1).padStart(2, '0'),
        driver: (session.about && session.about.driver) || ''
      });
      lines.push(COLUMNS.map(function (name) { return cell(row[name] || ''); }).join(','));
    });
    return lines.join('\n') + '\n';
  }

  function rowsOf(text) {
    const rows = [[]];
    let field = '', quoted = false;
    for (let at = 0; at < text.length; at++) {
      const c = text[at];
      if (quoted) {
        if (c === '"' && text[at + 1] === '"') { field += '"'; at++; } else if (c === '"') { quoted = false; } else { field += c; }
      } else if (c === '"' && field === '') {
        quoted = true;
      } else if (c === ',' || c === '\n') {
        rows[rows.length - 1].push(field);
        field = '';
        if (c === '\n') { rows.push([]); }
      } else if (c !== '\r') {
        field += c;
      }
    }
    rows[rows.length - 1].push(field);
    return rows.filter(function (row) { return row.length > 1 || row[0] !== ''; });
  }

  /* Runs of a trials file. Throws an Error with a sentence for the reader. */
  function fromCsv(text) {
    const rows = rowsOf(text.replace(/^\ufeff/, '')), header = rows.shift() || [];
    ['power_limit_pct', 'voltage_offset_mv', 'outcome', 'score'].forEach(function (name) {
      if (!header.includes(name)) { throw new Error('This is no trials file: it has no column ' + name + '.'); }
    });
    let driver = '';
    const runs = rows.map(function (row, place) {
      if (row.length !== header.length) {
        throw new Error('Row ' + (place + 1) + ' has ' + row.length + ' cells; the header has ' + header.length + '.');
      }
      const run = {};
      header.forEach(function (name, index) {
        if (name === 'driver') { driver = row[index] || driver; }
        if (COLUMNS.includes(name) && name !== 'trial' && name !== 'driver' && row[index]) { run[name] = row[index]; }
      });
      const faults = faultsOf(run);
      if (faults.length) { throw new Error('Row ' + (place + 1) + ': ' + faults[0].text); }
      return run;
    });
    return { runs: runs, driver: driver };
  }

  /* Everything in one file: what is needed to go on elsewhere, and to send the runs in. */
  function toFile(session) {
    return JSON.stringify({ worksheet: 1, about: session.about, trials_csv: toCsv(session) }, null, 1) + '\n';
  }

  /* A session from either file. Throws an Error with a sentence for the reader. */
  function fromFile(text) {
    if (!/^\s*\{/.test(text)) {
      const read = fromCsv(text);
      return { about: Object.assign({}, ABOUT, { driver: read.driver }), runs: read.runs };
    }
    let found;
    try { found = JSON.parse(text); } catch (error) { throw new Error('This file cannot be read: ' + error.message + '.'); }
    if (!found || found.worksheet !== 1 || typeof found.trials_csv !== 'string') {
      throw new Error('This is no file of this worksheet.');
    }
    return { about: aboutFrom(found.about), runs: fromCsv(found.trials_csv).runs };
  }

  function aboutFrom(given) {
    const about = Object.assign({}, ABOUT);
    Object.keys(ABOUT).forEach(function (key) {
      if (given && typeof given[key] === 'string') { about[key] = given[key].slice(0, 120); }
    });
    return about;
  }

  /* --- What was typed --- */

  const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)$/;
  const RANGES = {
    power_limit_pct: [1, 300, 'percent of the stock limit'],
    voltage_offset_mv: [-1000, 1000, 'millivolts; lower is negative'],
    score: [0, 1e12, 'the score as the load shows it'],
    board_power_w: [0, 2000, 'watts'],
    core_clock_mhz: [0, 10000, 'megahertz'],
    core_temp_c: [-50, 150, 'degrees Celsius'],
    hotspot_temp_c: [-50, 150, 'degrees Celsius'],
    ambient_c: [-50, 60, 'degrees Celsius'],
    fan_rpm: [0, 20000, 'revolutions a minute'],
    duration_s: [1, 1e7, 'seconds, or such as 45 min or 2 h']
  };

  /* A number as typed, made plain: a true minus becomes a hyphen, outer spaces go. Other oddities stay, to be told. */
  function plain(text) {
    return String(text).trim().replace(/^[\u2212\u2013]/, '-');
  }

  /* Seconds from `90`, `45 min`, `2 h`; other texts as they are. */
  function seconds(text) {
    const match = /^(\d+(?:\.\d+)?)\s*(s|min|h)?$/.exec(plain(text));
    if (!match) { return plain(text); }
    return String(tidy(Number(match[1]) * { s: 1, min: 60, h: 3600 }[match[2] || 's']));
  }

  function numberFault(name, text) {
    const range = RANGES[name];
    if (/^[+-]?\d{1,3}(,\d{3})+$/.test(text)) {
      return 'Write ' + text.replace(/,/g, '') + ', or ' + text.replace(',', '.') + ' if the comma is a decimal sign.';
    }
    if (/^[+-]?\d+,\d+$/.test(text)) { return 'Write ' + text.replace(',', '.') + ' with a point.'; }
    if (!NUMBER.test(text)) { return 'Write a number: ' + range[2] + '.'; }
    if (Number(text) < range[0] || Number(text) > range[1]) {
      return 'Write a number from ' + numbers.typeset(String(range[0])) + ' to ' + numbers.typeset(String(range[1])) + ': ' + range[2] + '.';
    }
    return '';
  }

  /* Everything wrong with a run: [{name, text}]. */
  function faultsOf(run) {
    const faults = [];
    function fault(name, text) { faults.push({ name: name, text: text }); }
    NUMERIC.forEach(function (name) {
      const text = run[name] || '';
      const needed = name === 'power_limit_pct' || name === 'voltage_offset_mv' ||
        (name === 'score' && counts(run)) || (name === 'duration_s' && run.sequence === SOAK);
      const wrong = text ? numberFault(name, text) : needed ? 'Write ' + RANGES[name][2] + '.' : '';
      if (wrong) { fault(name, wrong); }
    });
    if (!OUTCOMES.includes(run.outcome)) { fault('outcome', 'Say how the run ended.'); }
    if (run.sequence && run.sequence !== SOAK) { fault('sequence', 'Only soaks are marked here.'); }
    ['note', 'excluded'].forEach(function (name) {
      if (/^[=+\-@\t]/.test(run[name] || '')) { fault(name, 'Start with a letter or a digit: spreadsheets would run this.'); }
      if ((run[name] || '').length > 300 || /[\u0000-\u001f]/.test(run[name] || '')) { fault(name, 'One line of at most 300 characters.'); }
    });
    return faults;
  }

  window.worksheetMethod = Object.freeze({
    ABOUT: Object.freeze(ABOUT), COLUMNS: Object.freeze(COLUMNS), OUTCOMES: Object.freeze(OUTCOMES), SOAK: SOAK,
    settings: settings, figures: figures, nextStep: nextStep, toCsv: toCsv, fromCsv: fromCsv, toFile: toFile,
    fromFile: fromFile, aboutFrom: aboutFrom, plain: plain, seconds: seconds, faultsOf: faultsOf, counts: counts
  });
})();
