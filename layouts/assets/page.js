// What a page gains where scripts run: tables that sort and filter, disclosures that open for print,
// and rows that light up together with the number in the text. Everything is readable without it.
(function () {
  'use strict';

  function cellValue(row, index) {
    var cell = row.cells[index];
    if (!cell) { return ''; }
    var raw = cell.getAttribute('data-value');
    return raw === null ? cell.textContent.trim() : raw;
  }

  function compare(a, b) {
    var x = Number(a), y = Number(b);
    if (a !== '' && b !== '' && !isNaN(x) && !isNaN(y)) { return x - y; }
    return a.localeCompare(b, undefined, { numeric: true });
  }

  function sortBy(table, header, index) {
    var descending = header.getAttribute('aria-sort') === 'ascending';
    table.querySelectorAll('th[aria-sort]').forEach(function (other) { other.removeAttribute('aria-sort'); });
    header.setAttribute('aria-sort', descending ? 'descending' : 'ascending');
    var body = table.tBodies[0];
    var rows = Array.prototype.slice.call(body.rows).map(function (row, place) {
      return { row: row, value: cellValue(row, index), place: place };
    });
    rows.sort(function (a, b) {
      // An absent value stays at the end in both directions: it is not the smallest.
      var missing = (a.value === '' || a.value === '–') - (b.value === '' || b.value === '–');
      if (missing) { return missing; }
      return (descending ? -1 : 1) * compare(a.value, b.value) || a.place - b.place;
    });
    rows.forEach(function (entry) { body.appendChild(entry.row); });
  }

  function makeSortable(table) {
    Array.prototype.forEach.call(table.tHead.rows[0].cells, function (header, index) {
      var button = document.createElement('button');
      button.type = 'button';
      button.className = 'sort';
      while (header.firstChild) { button.appendChild(header.firstChild); }
      button.addEventListener('click', function () { sortBy(table, header, index); });
      header.appendChild(button);
    });
  }

  function makeFilterable(list) {
    var entries = list.tBodies ? list.tBodies[0].rows : list.children;
    if (entries.length < 4) { return; }
    var box = document.createElement('div');
    var label = document.createElement('label');
    var input = document.createElement('input');
    var status = document.createElement('span');
    box.className = 'filter';
    input.type = 'search';
    label.textContent = list.getAttribute('data-filter') + ' ';
    label.appendChild(input);
    status.setAttribute('role', 'status');
    status.className = 'count';
    box.appendChild(label);
    box.appendChild(status);
    input.addEventListener('input', function () {
      var words = input.value.toLowerCase().split(/\s+/).filter(Boolean), shown = 0;
      Array.prototype.forEach.call(entries, function (entry) {
        var text = entry.textContent.toLowerCase();
        var fits = words.every(function (word) { return text.indexOf(word) >= 0; });
        entry.hidden = !fits;
        shown += fits ? 1 : 0;
      });
      status.textContent = words.length ? shown + ' of ' + entries.length + ' shown' : '';
    });
    var frame = list.closest('.wide') || list;
    frame.parentNode.insertBefore(box, frame);
  }

  function openForPrint() {
    var opened = [];
    window.addEventListener('beforeprint', function () {
      document.querySelectorAll('details:not([open])').forEach(function (each) {
        each.open = true;
        opened.push(each);
      });
    });
    window.addEventListener('afterprint', function () {
      opened.splice(0).forEach(function (each) { each.open = false; });
    });
  }

  function lightTogether() {
    function light(event) {
      var number = event.target.closest && event.target.closest('.number[popovertarget]');
      if (!number) { return; }
      var on = event.type === 'pointerover' || event.type === 'focusin';
      var address = number.getAttribute('popovertarget').slice('working:'.length);
      var row = document.getElementById(address);
      if (row) { row.classList.toggle('lit', on); }
      document.querySelectorAll('.number[popovertarget="' + CSS.escape('working:' + address) + '"]').forEach(function (other) {
        other.classList.toggle('lit', on);
      });
      document.dispatchEvent(new CustomEvent('benchgalley:light', { detail: { address: on ? address : null } }));
    }
    ['pointerover', 'pointerout', 'focusin', 'focusout'].forEach(function (kind) {
      document.addEventListener(kind, light);
    });
  }

  // A link to a row must show it even inside a closed disclosure, and a link out of a popover must close it.
  function revealTarget() {
    var target = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!target) { return; }
    document.querySelectorAll('[popover]').forEach(function (each) {
      if (each.matches(':popover-open')) { each.hidePopover(); }
    });
    for (var each = target; each; each = each.parentElement) {
      if (each.tagName === 'DETAILS') { each.open = true; }
    }
    var own = target.querySelector(':scope > details');
    if (own) { own.open = true; }
    target.scrollIntoView({ block: 'center' });
  }

  document.querySelectorAll('table[data-sort]').forEach(makeSortable);
  document.querySelectorAll('[data-filter]').forEach(makeFilterable);
  openForPrint();
  lightTogether();
  window.addEventListener('hashchange', revealTarget);
  revealTarget();
})();
