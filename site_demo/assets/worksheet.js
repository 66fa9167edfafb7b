/* The page of the worksheet: forms, tables, what is kept in this browser, files in and out. */
(function () {
  'use strict';

  const method = window.worksheetMethod, numbers = window.worksheetNumbers;
  const known = JSON.parse(document.getElementById('known').textContent);
  const KEY = 'worksheet: ' + known.site;
  const ANSWERS = {
    'shown': ['answer-same', 'same, within the margin'],
    'refuted': ['answer-not', 'not the same'],
    'not settled': ['answer-open', 'not settled: more runs'],
    'too few runs': ['answer-open', 'three runs each needed'],
    'no spread': ['answer-open', 'cannot be said: no spread']
  };

  let session = { about: Object.assign({}, method.ABOUT, { confidence_pct: known.confidence_pct }), runs: [] };
  let editing = -1, suggested = null;

  function byId(id) { return document.getElementById(id); }

  function make(name, className, text) {
    const made = document.createElement(name);
    if (className) { made.className = className; }
    if (text !== undefined) { made.textContent = text; }
    return made;
  }

  /* --- Kept in this browser --- */

  function keep() {
    try {
      localStorage.setItem(KEY, method.toFile(session));
      byId('kept').textContent = session.runs.length
        ? 'Kept in this browser: ' + session.runs.length + (session.runs.length === 1 ? ' run.' : ' runs.') : '';
    } catch (error) {
      byId('kept').textContent = 'This browser does not let the page keep anything: download everything before you leave.';
    }
  }

  function recall() {
    let kept = null;
    try { kept = localStorage.getItem(KEY); } catch (error) { return; }
    if (!kept) { return; }
    try { session = method.fromFile(kept); } catch (error) { tell('file-faults', ['What was kept here cannot be read: ' + error.message]); }
  }

  function tell(id, sentences) {
    const box = byId(id);
    box.replaceChildren();
    sentences.forEach(function (sentence) { box.appendChild(make('p', '', sentence)); });
  }

  /* --- Card and load --- */

  function fill(select, entries, other) {
    [{ id: '', name: other }].concat(entries).forEach(function (entry) {
      const option = make('option', '', entry.name);
      option.value = entry.id;
      select.appendChild(option);
    });
  }

  function showAbout() {
    byId('about').querySelectorAll('[name]').forEach(function (field) { field.value = session.about[field.name]; });
    byId('score-unit').textContent = session.about.score_unit ? ', ' + session.about.score_unit : '';
    const seen = known.seen.filter(function (entry) {
      return entry.card === session.about.card && entry.load === session.about.load;
    });
    byId('seen').textContent = seen.map(function (entry) { return entry.text; }).join(' ');
  }

  function rangeFault(field) {
    if (!field.dataset.range) { return ''; }
    const range = field.dataset.range.split(' ').map(Number), text = field.value;
    if (/^-?\d+(\.\d+)?$/.test(text) && Number(text) >= range[0] && Number(text) <= range[1]) { return ''; }
    return 'Write a number from ' + numbers.typeset(String(range[0])) + ' to ' + numbers.typeset(String(range[1])) + '.';
  }

  function changeAbout(event) {
    const field = event.target;
    field.value = method.plain(field.value);
    const fault = rangeFault(field);
    mark(field, fault);
    if (fault) { return; }
    session.about[field.name] = field.value;
    if (field.name === 'card') { take(known.cards, field.value, ['stock_board_power_w', 'power_low_pct']); }
    if (field.name === 'load') { take(known.loads, field.value, ['score_unit', 'better']); }
    update();
  }

  function take(entries, id, keys) {
    const entry = entries.find(function (each) { return each.id === id; });
    keys.forEach(function (key) { session.about[key] = entry ? entry[key] : method.ABOUT[key]; });
  }

  /* --- A run --- */

  function mark(field, fault) {
    const id = field.id + '-fault', old = byId(id);
    if (old) { old.remove(); }
    field.removeAttribute('aria-invalid');
    field.removeAttribute('aria-describedby');
    if (!fault) { return; }
    const told = make('span', 'fault', fault);
    told.id = id;
    field.setAttribute('aria-invalid', 'true');
    field.setAttribute('aria-describedby', id);
    field.insertAdjacentElement('afterend', told);
  }

  function typed() {
    const run = {};
    byId('run').querySelectorAll('[name]').forEach(function (field) {
      const text = field.type === 'checkbox' ? (field.checked ? method.SOAK : '')
        : field.name === 'duration_s' ? method.seconds(field.value) : method.plain(field.value);
      if (text) { run[field.name] = text; }
    });
    return run;
  }

  function showFaults(faults) {
    byId('run').querySelectorAll('[name]').forEach(function (field) {
      const own = faults.find(function (fault) { return fault.name === field.name; });
      mark(field, own ? own.text : '');
    });
    const box = byId('run-faults');
    box.replaceChildren();
    if (!faults.length) { return; }
    box.appendChild(make('p', '', faults.length === 1 ? 'One thing to mend:' : faults.length + ' things to mend:'));
    const list = make('ul');
    faults.forEach(function (fault) {
      const item = make('li'), link = make('a', '', labelOf(fault.name) + ': ' + fault.text);
      link.href = '#run-' + fault.name;
      link.addEventListener('click', function (event) {
        event.preventDefault();
        open(fault.name).focus();
      });
      item.appendChild(link);
      list.appendChild(item);
    });
    box.appendChild(list);
    open(faults[0].name).focus();
  }

  function labelOf(name) { return document.querySelector('label[for="run-' + name + '"]').textContent; }

  function open(name) {
    const field = byId('run-' + name), more = field.closest('details');
    if (more) { more.open = true; }
    return field;
  }

  function submitRun(event) {
    event.preventDefault();
    const run = typed(), faults = method.faultsOf(run);
    showFaults(faults);
    if (faults.length) { return; }
    if (editing >= 0) { session.runs[editing] = run; } else { session.runs.push(run); }
    const changed = editing >= 0;
    endEditing();
    update();
    showRun(suggested || {});
    byId(changed ? 'run-power_limit_pct' : 'run-score').focus();
  }

  /* Settings are filled in; what was measured is left for the reader. */
  function showRun(run) {
    byId('run').reset();
    byId('run').querySelectorAll('[name]').forEach(function (field) {
      const text = run[field.name] || '';
      if (field.type === 'checkbox') { field.checked = text === method.SOAK; } else if (text) { field.value = text; }
      mark(field, '');
    });
    byId('run-faults').replaceChildren();
    byId('more').open = ['duration_s', 'ambient_c', 'hotspot_temp_c', 'core_clock_mhz', 'fan_rpm', 'note', 'excluded']
      .some(function (name) { return run[name]; }) || run.sequence === method.SOAK;
  }

  function edit(place) {
    editing = place;
    showRun(session.runs[place]);
    byId('enter').textContent = 'Change run ' + (place + 1);
    byId('add').textContent = 'Save the change';
    byId('cancel').hidden = false;
    byId('run-power_limit_pct').focus();
  }

  function endEditing() {
    editing = -1;
    byId('enter').textContent = 'Enter a run';
    byId('add').textContent = 'Add this run';
    byId('cancel').hidden = true;
  }

  function remove(place) {
    if (!window.confirm('Remove run ' + (place + 1) + '? Only a run that never happened should go; leave others out with a reason.')) { return; }
    session.runs.splice(place, 1);
    endEditing();
    update();
    byId('runs-entered').focus();
  }

  /* --- What is shown --- */

  function settingText(limit, offset, soak) {
    if (limit === 100 && offset === 0 && !soak) { return 'Stock'; }
    return numbers.withUnit(numbers.typeset(String(limit)), '%') + ', ' + numbers.withUnit(numbers.typeset(String(offset)), 'mV') +
      (soak ? ', soak' : '');
  }

  /* A cell of the figures. On a narrow screen rows are stacked, so each cell knows its head. */
  function labelled(label, cell) {
    cell.setAttribute('data-label', label);
    if (cell.textContent === '–') { cell.classList.add('none'); }
    return cell;
  }

  function cellOf(label, shown, unit) {
    const bare = function (text) { return unit ? text.split('\u00a0' + unit).join('') : text; };
    const cell = labelled(label, make('td', 'right', bare(shown.text) || '–'));
    if (shown.interval) { cell.appendChild(make('span', 'origin', bare(shown.interval))); }
    return cell;
  }

  function sameCell(same, runs) {
    if (!same || !runs) { return labelled('Same score as stock?', make('td', '', '–')); }
    const cell = labelled('Same score as stock?', make('td')), answer = ANSWERS[same.decision];
    cell.appendChild(make('span', answer[0], answer[1]));
    if (same.range) { cell.appendChild(make('span', 'origin', 'change ' + same.range)); }
    return cell;
  }

  function showFigures(next) {
    const body = byId('figures').tBodies[0];
    body.replaceChildren();
    const unit = session.about.score_unit;
    ['head-score', 'head-spread'].forEach(function (id) {
      byId(id).textContent = (id === 'head-score' ? 'Score' : 'Spread') + (unit ? ', ' + unit : '');
    });
    method.figures(session).forEach(function (found) {
      const chosen = next.code === 'done' && found.limit === next.limit && found.offset === next.offset && !found.soak;
      const row = make('tr', chosen ? 'chosen' : ''), head = make('th', '', settingText(found.limit, found.offset, found.soak));
      head.scope = 'row';
      const runs = found.completed + (found.failed ? ', ' + found.failed + ' failed' : '');
      row.append(
        head,
        cellOf('Score, of stock', found.ofStock),
        cellOf('Saved', found.saved),
        sameCell(found.same, found.completed),
        cellOf('Cooler by', found.cooler),
        labelled('Runs', make('td', 'right', runs)),
        cellOf(byId('head-score').textContent, found.score, unit),
        cellOf(byId('head-spread').textContent, found.spread, unit),
        cellOf('Board power', found.power)
      );
      body.appendChild(row);
    });
  }

  function button(text, name, act) {
    const made = make('button', 'close', text);
    made.type = 'button';
    made.setAttribute('aria-label', name);
    made.addEventListener('click', act);
    return made;
  }

  function showRuns() {
    const body = byId('runs').tBodies[0];
    body.replaceChildren();
    session.runs.forEach(function (run, place) {
      const row = make('tr', run.excluded ? 'excluded' : run.outcome !== 'completed' ? 'failed' : '');
      const head = make('th', '', String(place + 1)), change = make('td');
      head.scope = 'row';
      row.appendChild(head);
      row.appendChild(make('td', '', settingText(Number(run.power_limit_pct), Number(run.voltage_offset_mv) + 0, run.sequence === method.SOAK)));
      row.appendChild(make('td', '', run.outcome));
      row.appendChild(make('td', 'right', run.score ? numbers.typeset(run.score) : '–'));
      row.appendChild(make('td', 'right', run.board_power_w ? numbers.withUnit(run.board_power_w, 'W') : '–'));
      row.appendChild(make('td', 'right', run.core_temp_c ? numbers.withUnit(run.core_temp_c, '°C') : '–'));
      row.appendChild(make('td', '', run.excluded ? 'left out: ' + run.excluded : run.note || ''));
      change.appendChild(button('Change', 'Change run ' + (place + 1), function () { edit(place); }));
      change.appendChild(button('Remove', 'Remove run ' + (place + 1), function () { remove(place); }));
      row.appendChild(change);
      body.appendChild(row);
    });
  }

  function showNext(next) {
    byId('next-title').textContent = next.title;
    byId('next-text').textContent = next.text;
    suggested = next.limit === undefined || next.code === 'done' ? null
      : { power_limit_pct: String(next.limit), voltage_offset_mv: String(next.offset), sequence: next.soak ? method.SOAK : '' };
    byId('use-step').hidden = !suggested;
    byId('method-steps').querySelectorAll('li').forEach(function (item) {
      if (item.dataset.steps.split(' ').includes(next.code)) {
        item.setAttribute('aria-current', 'step');
      } else {
        item.removeAttribute('aria-current');
      }
    });
  }

  function update() {
    const next = method.nextStep(session), some = session.runs.length > 0;
    showAbout();
    showNext(next);
    byId('nothing-yet').hidden = some;
    byId('results').hidden = !some;
    byId('confidence').textContent = session.about.confidence_pct;
    showFigures(next);
    showRuns();
    keep();
  }

  /* --- Files --- */

  function download(name, kind, text) {
    const link = make('a');
    link.href = URL.createObjectURL(new Blob([text], { type: kind }));
    link.download = name;
    document.body.appendChild(link);
    link.click();
    link.remove();
    setTimeout(function () { URL.revokeObjectURL(link.href); }, 60000);
  }

  function takeFile(event) {
    const file = event.target.files[0];
    if (!file) { return; }
    tell('file-faults', []);
    if (session.runs.length && !window.confirm('Put the runs of this file in place of the ' + session.runs.length + ' entered here?')) {
      event.target.value = '';
      return;
    }
    if (file.size > 2e6) {
      tell('file-faults', ['This file is too large to be a worksheet.']);
      return;
    }
    file.text().then(function (text) {
      const found = method.fromFile(text);
      found.about.confidence_pct = known.confidence_pct;
      session = found;
      endEditing();
      update();
      showRun(suggested || {});
    }).catch(function (error) { tell('file-faults', [error.message]); });
    event.target.value = '';
  }

  function clear() {
    if (!window.confirm('Clear every run and setting kept here?')) { return; }
    session = { about: Object.assign({}, method.ABOUT, { confidence_pct: known.confidence_pct }), runs: [] };
    try { localStorage.removeItem(KEY); } catch (error) { /* nothing was kept */ }
    endEditing();
    update();
    showRun(suggested || {});
    byId('about-card').focus();
  }

  fill(byId('about-card'), known.cards, 'another card');
  fill(byId('about-load'), known.loads, 'another load');
  byId('runs-entered').tabIndex = -1;
  recall();
  session.about.confidence_pct = known.confidence_pct;
  byId('about').addEventListener('change', changeAbout);
  byId('about').addEventListener('submit', function (event) { event.preventDefault(); });
  byId('run').addEventListener('submit', submitRun);
  byId('cancel').addEventListener('click', function () { endEditing(); showRun(suggested || {}); });
  byId('use-step').addEventListener('click', function () {
    endEditing();
    showRun(suggested || {});
    byId('run-score').focus();
  });
  byId('save-csv').addEventListener('click', function () { download('trials.csv', 'text/csv', method.toCsv(session)); });
  byId('save-all').addEventListener('click', function () { download('worksheet.json', 'application/json', method.toFile(session)); });
  byId('load-file').addEventListener('change', takeFile);
  byId('clear').addEventListener('click', clear);
  byId('worksheet').hidden = false;
  update();
  showRun(suggested || {});
})();
