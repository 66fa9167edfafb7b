/* The arithmetic of the worksheet: numbers in, numbers and printed texts out. Knows neither page nor runs.

   The same formulas as the site's generator, which tests/worksheet compares with on a thousand random sessions, to the
   last printed digit. Sources stand beside each formula on the methods page. */
(function () {
  'use strict';

  const NO_BREAK = '\u00a0', MINUS = '\u2212', THIN = '\u202f';
  const UNCERTAIN_DIGITS = 4;

  /* Correctly rounded sum (Shewchuk, Discrete Comput. Geom. 18 (1997) 305-363). */
  function exactSum(values) {
    const parts = [];
    for (let x of values) {
      let kept = 0;
      for (let y of parts) {
        if (Math.abs(x) < Math.abs(y)) { [x, y] = [y, x]; }
        const high = x + y, low = y - (high - x);
        if (low !== 0) { parts[kept++] = low; }
        x = high;
      }
      parts.length = kept;
      parts.push(x);
    }
    let at = parts.length, sum = 0, low = 0;
    if (at > 0) { sum = parts[--at]; }
    while (at > 0) {
      const x = sum, y = parts[--at];
      sum = x + y;
      low = y - (sum - x);
      if (low !== 0) { break; }
    }
    // What is left over decides a tie.
    if (at > 0 && ((low < 0 && parts[at - 1] < 0) || (low > 0 && parts[at - 1] > 0))) {
      const twice = low * 2, x = sum + twice;
      if (twice === x - sum) { sum = x; }
    }
    return sum;
  }

  function mean(values) {
    return exactSum(values) / values.length;
  }

  /* Repeatability standard deviation, divisor n - 1, corrected two-pass form. */
  function standardDeviation(values) {
    if (values.every(function (value) { return value === values[0]; })) { return 0; }
    const centre = mean(values);
    const deviations = values.map(function (value) { return value - centre; });
    const rest = exactSum(deviations);
    const squares = exactSum(deviations.map(function (d) { return d * d; })) - rest * rest / values.length;
    return Math.sqrt(Math.max(squares, 0) / (values.length - 1));
  }

  const LANCZOS = [
    0.99999999999980993, 676.5203681218851, -1259.1392167224028, 771.32342877765313,
    -176.61502916214059, 12.507343278686905, -0.13857109526572012, 9.9843695780195716e-6, 1.5056327351493116e-7
  ];

  /* Logarithm of the gamma function for x >= 0.5 (Lanczos, J. SIAM Numer. Anal. B 1 (1964) 86-96). */
  function logGamma(x) {
    let sum = LANCZOS[0];
    for (let i = 1; i < LANCZOS.length; i++) { sum += LANCZOS[i] / (x - 1 + i); }
    const t = x + 6.5;
    return 0.5 * Math.log(2 * Math.PI) + (x - 0.5) * Math.log(t) - t + Math.log(sum);
  }

  /* Continued fraction of the incomplete beta function (modified Lentz; Abramowitz and Stegun 26.5.8). */
  function betaFraction(a, b, x) {
    const tiny = 1e-300;
    let c = 1, d = 1 - (a + b) * x / (a + 1);
    if (Math.abs(d) < tiny) { d = tiny; }
    d = 1 / d;
    let h = d;
    for (let m = 1; m <= 10000; m++) {
      const even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
      d = 1 + even * d; if (Math.abs(d) < tiny) { d = tiny; }
      c = 1 + even / c; if (Math.abs(c) < tiny) { c = tiny; }
      d = 1 / d;
      h *= d * c;
      const odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
      d = 1 + odd * d; if (Math.abs(d) < tiny) { d = tiny; }
      c = 1 + odd / c; if (Math.abs(c) < tiny) { c = tiny; }
      d = 1 / d;
      const change = d * c;
      h *= change;
      if (Math.abs(change - 1) < 1e-16) { break; }
    }
    return h;
  }

  /* Regularised incomplete beta function I_x(a, b), with y = 1 - x given apart to keep its digits. */
  function betaShare(a, b, x, y) {
    if (x <= 0) { return 0; }
    if (y <= 0) { return 1; }
    const front = Math.exp(logGamma(a + b) - logGamma(a) - logGamma(b) + a * Math.log(x) + b * Math.log(y));
    if (x < (a + 1) / (a + b + 2)) { return front * betaFraction(a, b, x) / a; }
    return 1 - front * betaFraction(b, a, y) / b;
  }

  /* Upper tail of Student's t: P(T > t) for nu degrees of freedom. */
  function tTail(t, nu) {
    const square = t * t;
    const half = 0.5 * betaShare(nu / 2, 0.5, nu / (nu + square), square / (nu + square));
    return t >= 0 ? half : 1 - half;
  }

  const quantiles = new Map();

  /* Quantile of Student's t at upper-tail probability `tail` below one half, by bisection on the tail. */
  function tUpper(tail, nu) {
    const key = tail + ' ' + nu;
    if (quantiles.has(key)) { return quantiles.get(key); }
    let low = 0, high = 2;
    while (tTail(high, nu) > tail) { low = high; high *= 2; }
    for (let i = 0; i < 200; i++) {
      const middle = (low + high) / 2;
      if (middle <= low || middle >= high) { break; }
      if (tTail(middle, nu) > tail) { low = middle; } else { high = middle; }
    }
    const found = (low + high) / 2;
    quantiles.set(key, found);
    return found;
  }

  /* Two-sided factor for a confidence as a fraction (JCGM 100:2008, G.3.2). */
  function coverageFactor(confidence, nu) {
    return tUpper((1 - confidence) / 2, nu);
  }

  /* Mean, spread and standard error of one setting's values; what cannot be had is null. */
  function moments(values) {
    const runs = values.length;
    if (runs === 0) { return { runs: 0, mean: null, spread: null, error: null, nu: null }; }
    const spread = runs > 1 ? standardDeviation(values) : null;
    return {
      runs: runs,
      mean: mean(values),
      spread: spread,
      error: spread === null ? null : spread / Math.sqrt(runs),
      nu: runs > 1 ? runs - 1 : null
    };
  }

  /* Two-sided t interval of a mean (NIST/SEMATECH e-Handbook 1.3.5.2); null without repeats or without spread. */
  function meanInterval(of, confidence) {
    if (of.error === null || !(of.error > 0)) { return null; }
    const half = coverageFactor(confidence, of.nu) * of.error;
    return { low: of.mean - half, high: of.mean + half };
  }

  /* Welch-Satterthwaite degrees of freedom (NIST/SEMATECH e-Handbook 1.3.5.3). */
  function welchFreedom(errorA, nuA, errorB, nuB) {
    const largest = Math.max(errorA, errorB);
    const shareA = (errorA / largest) * (errorA / largest), shareB = (errorB / largest) * (errorB / largest);
    const below = shareA * shareA / nuA + shareB * shareB / nuB;
    return (shareA + shareB) * (shareA + shareB) / below;
  }

  /* Factors of two standard errors at an upper-tail probability: Welch's, with degrees of freedom rounded down
     (JCGM 100:2008, G.4.1), where those of the sides are equal or, from two up, at most twofold apart; elsewhere each
     side's own (S. K. Banerjee, Sankhya 22 (1960) 357-358). */
  function factors(errorA, nuA, errorB, nuB, tail) {
    const fewest = Math.min(nuA, nuB), most = Math.max(nuA, nuB);
    if (errorA > 0 && errorB > 0 && fewest !== most && !(fewest >= 2 && most <= 2 * fewest)) {
      return { a: tUpper(tail, nuA), b: tUpper(tail, nuB) };
    }
    const t = tUpper(tail, Math.floor(welchFreedom(errorA, nuA, errorB, nuB) * (1 + 1e-9)));
    return { a: t, b: t };
  }

  function halfWidth(errorA, nuA, errorB, nuB, tail) {
    const t = factors(errorA, nuA, errorB, nuB, tail);
    return Math.hypot(t.a * errorA, t.b * errorB);
  }

  /* Difference of two means, a - b, with its interval (Welch, Biometrika 34 (1947) 28-35; Banerjee). */
  function difference(a, b, confidence) {
    if (a.mean === null || b.mean === null) { return null; }
    const value = a.mean - b.mean;
    if (a.error === null || b.error === null || !(Math.max(a.error, b.error) > 0)) {
      return { value: value, interval: null };
    }
    const half = halfWidth(a.error, a.nu, b.error, b.nu, (1 - confidence) / 2);
    return { value: value, interval: { low: value - half, high: value + half } };
  }

  /* Percent a is of b, with Fieller's interval (J. R. Stat. Soc. B 16 (1954) 175-185), each side with its factor; the
     interval is null where the set is none. */
  function percentOf(a, b, confidence) {
    if (a.mean === null || b.mean === null || b.mean === 0) { return null; }
    const theta = a.mean / b.mean, value = 100 * theta;
    if (a.error === null || b.error === null || theta === 0) { return { value: value, interval: null }; }
    const scaledB = Math.abs(theta) * b.error;
    if (!(Math.max(a.error, scaledB) > 0)) { return { value: value, interval: null }; }
    const t = factors(a.error, a.nu, scaledB, b.nu, (1 - confidence) / 2);
    const wideA = t.a * a.error / (theta * b.mean), wideB = t.b * b.error / b.mean;
    const squareA = wideA * wideA, squareB = wideB * wideB, lead = 1 - squareB;
    if (!(lead > 0)) { return { value: value, interval: null }; }
    const sum = 1 + Math.sqrt(Math.max(squareA + squareB - squareA * squareB, 0));
    const ends = [sum / lead * theta, (1 - squareA) / sum * theta].sort(function (x, y) { return x - y; });
    return { value: value, interval: { low: 100 * ends[0], high: 100 * ends[1] } };
  }

  /* Is a the same as b within a margin in percent of b? Two one-sided t tests of the change in percent (Schuirmann,
     J. Pharmacokinet. Biopharm. 15 (1987) 657-680). Without repeats on both sides there is no answer. */
  function sameWithin(a, b, marginPct, alpha) {
    if (a.error === null || b.error === null || b.mean === 0) { return null; }
    const ratio = a.mean / b.mean;
    const errorA = 100 * a.error / Math.abs(b.mean), errorB = 100 * Math.abs(ratio) * b.error / Math.abs(b.mean);
    if (!(Math.max(errorA, errorB) > 0)) { return null; }
    const change = 100 * (a.mean - b.mean) / b.mean;
    const half = halfWidth(errorA, a.nu, errorB, b.nu, alpha), wide = halfWidth(errorA, a.nu, errorB, b.nu, alpha / 2);
    let decision = 'not settled';
    if (change - half > -marginPct && change + half < marginPct) {
      decision = 'shown';
    } else if (change - wide > marginPct || change + wide < -marginPct) {
      decision = 'refuted';
    }
    return { decision: decision, change: change, low: change - half, high: change + half };
  }

  /* Upper bound of the failure rate after soaking without a failure: -ln(1 - confidence) / hours (exact Poisson). */
  function zeroFailureRate(hours, confidence) {
    return -Math.log(1 - confidence) / hours;
  }

  /* --- Digits. A number counts as the shortest decimal that reads back to it, so that 2.675 means 2.675. --- */

  function decimalOf(value) {
    const match = /^(-?)(\d+)(?:\.(\d+))?(?:e([+-]\d+))?$/.exec(String(value));
    const fraction = match[3] || '';
    let digits = match[2] + fraction;
    let lead = match[2].length - 1 + Number(match[4] || 0);
    const zeros = /^0*/.exec(digits)[0].length;
    digits = digits.slice(zeros).replace(/0+$/, '');
    lead -= zeros;
    return { negative: match[1] === '-', digits: digits, lead: digits ? lead : 0 };
  }

  /* Digits of a decimal rounded half to even so that its last digit stands for 10^place. */
  function roundedDigits(number, place) {
    const keep = number.lead - place + 1;
    if (!number.digits || keep < 0) { return { digits: '', lead: 0 }; }
    const kept = number.digits.slice(0, keep).padEnd(keep, '0'), rest = number.digits.slice(keep);
    const odd = kept !== '' && Number(kept[kept.length - 1]) % 2 === 1;
    const up = rest > '5' || (rest === '5' && odd);
    if (!up) { return { digits: /[1-9]/.test(kept) ? kept : '', lead: number.lead }; }
    const raised = String(BigInt(kept || '0') + 1n).padStart(keep, '0');
    return { digits: raised, lead: number.lead + raised.length - Math.max(keep, 0) };
  }

  /* A value with so many decimals (negative: tens), ties to even (ISO 80000-1, Annex B, rule A). */
  function roundToPlace(value, decimals) {
    const number = decimalOf(value), rounded = roundedDigits(number, -decimals);
    const shown = Math.max(decimals, 0);
    if (!rounded.digits) { return shown ? '0.' + '0'.repeat(shown) : '0'; }
    let all = rounded.digits + '0'.repeat(Math.max(-decimals, 0));
    all = all.padStart(shown + 1, '0');
    const whole = shown ? all.slice(0, -shown) : all;
    return (number.negative ? '-' : '') + whole + (shown ? '.' + all.slice(-shown) : '');
  }

  /* Decimals of an uncertainty stated with two significant digits (JCGM 100:2008, 7.2.6). */
  function uncertaintyPlace(uncertainty) {
    const number = decimalOf(uncertainty), rounded = roundedDigits(number, number.lead - 1);
    return 1 - rounded.lead;
  }

  /* True minus; thin spaces between groups of three from five digits. */
  function typeset(text) {
    const negative = text.startsWith('-'), parts = text.replace('-', '').split('.');
    if (parts[0].length >= 5) { parts[0] = parts[0].replace(/\B(?=(\d{3})+$)/g, THIN); }
    return (negative ? MINUS : '') + parts.join('.');
  }

  function withUnit(text, unit) {
    return unit ? text + NO_BREAK + unit : text;
  }

  /* The one printed form: two significant digits of the half-width of the interval, everything to the same place;
     without an interval the decimals of the data, without those four significant digits. */
  function printed(value, unit, interval, decimals, spread) {
    if (value === null) { return { value: '', text: '', interval: '', plusMinus: '' }; }
    const half = spread !== undefined ? spread : interval ? (interval.high - interval.low) / 2 : null;
    let place;
    if (half !== null && half > 0) {
      place = uncertaintyPlace(half);
    } else if (decimals !== null && decimals !== undefined) {
      place = decimals;
    } else {
      place = value === 0 ? 0 : UNCERTAIN_DIGITS - 1 - Math.floor(Math.log10(Math.abs(value)));
    }
    const number = typeset(roundToPlace(value, place)), text = withUnit(number, unit);
    const found = { value: number, text: text, interval: '', plusMinus: text };
    if (interval) {
      found.interval = [interval.low, interval.high].map(function (end) {
        return withUnit(typeset(roundToPlace(end, place)), unit);
      }).join(' to ');
      if (Math.abs((interval.high + interval.low) / 2 - value) <= 0.05 * half && half > 0) {
        found.plusMinus = text + ' ± ' + withUnit(typeset(roundToPlace(half, place)), unit);
      }
    }
    return found;
  }

  window.worksheetNumbers = Object.freeze({
    exactSum: exactSum, mean: mean, standardDeviation: standardDeviation, tTail: tTail, tUpper: tUpper,
    coverageFactor: coverageFactor, moments: moments, meanInterval: meanInterval, difference: difference,
    percentOf: percentOf, sameWithin: sameWithin, zeroFailureRate: zeroFailureRate, roundToPlace: roundToPlace,
    uncertaintyPlace: uncertaintyPlace, typeset: typeset, withUnit: withUnit, printed: printed
  });
})();
