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
    var told = document.createElement('span');
    told.className = 'aside';
    told.setAttribute('role', 'status');
    (table.closest('.wide') || table).insertAdjacentElement('afterend', told);
    Array.prototype.forEach.call(table.tHead.rows[0].cells, function (header, index) {
      var button = document.createElement('button');
      button.type = 'button';
      button.className = 'sort';
      while (header.firstChild) { button.appendChild(header.firstChild); }
      button.addEventListener('click', function () {
        sortBy(table, header, index);
        told.textContent = 'Sorted by ' + button.textContent + ', ' + header.getAttribute('aria-sort');
      });
      header.appendChild(button);
    });
  }

  function labelled(words, control) {
    var label = document.createElement('label');
    label.textContent = words + ' ';
    label.appendChild(control);
    return label;
  }

  // A list of choices made from the entries themselves: only what is there can be chosen.
  function chooser(entries, key, words) {
    var select = document.createElement('select');
    var values = Array.prototype.map.call(entries, function (entry) { return entry.getAttribute('data-' + key) || ''; });
    values = values.filter(function (value, at) { return value && values.indexOf(value) === at; }).sort();
    ['', values].flat().forEach(function (value) {
      var option = document.createElement('option');
      option.value = value;
      option.textContent = value || 'all';
      select.appendChild(option);
    });
    select.setAttribute('data-key', key);
    return values.length > 1 ? labelled(words, select) : null;
  }

  // Filters the rows of a table, the entries of a list, or the rows of several tables at once (`data-entries`).
  function makeFilterable(list) {
    var within = list.getAttribute('data-entries');
    var entries = within ? list.querySelectorAll(within) : list.tBodies ? list.tBodies[0].rows : list.children;
    var choices = (list.getAttribute('data-choices') || '').split(';').filter(Boolean);
    if (entries.length < (choices.length ? 2 : 4)) { return; }
    var box = document.createElement('div');
    var input = document.createElement('input');
    var status = document.createElement('span');
    box.className = 'filter';
    if (choices.length) {
      box.setAttribute('role', 'search');
      box.setAttribute('aria-label', 'Filter');
    }
    choices.forEach(function (choice) {
      var select = chooser(entries, choice.split('=')[0], choice.split('=')[1]);
      if (select) { box.appendChild(select); }
    });
    input.type = 'search';
    box.appendChild(labelled(list.getAttribute('data-filter'), input));
    status.setAttribute('role', 'status');
    status.className = 'count';
    box.appendChild(status);

    function fits(entry, words) {
      var text = entry.textContent.toLowerCase();
      return words.every(function (word) { return text.indexOf(word) >= 0; }) &&
        Array.prototype.every.call(box.querySelectorAll('select'), function (select) {
          return !select.value || entry.getAttribute('data-' + select.getAttribute('data-key')) === select.value;
        });
    }

    function apply() {
      var words = input.value.toLowerCase().split(/\s+/).filter(Boolean), shown = 0;
      Array.prototype.forEach.call(entries, function (entry) {
        entry.hidden = !fits(entry, words);
        shown += entry.hidden ? 0 : 1;
      });
      // A section whose rows are all hidden goes with them.
      if (within) {
        list.querySelectorAll('section').forEach(function (section) {
          section.hidden = !section.querySelector(within + ':not([hidden])');
        });
      }
      status.textContent = shown < entries.length || words.length ? shown + ' of ' + entries.length + ' shown' : '';
    }

    box.addEventListener('input', apply);
    var frame = list.closest('.wide') || list;
    if (within) { list.insertBefore(box, list.firstChild); } else { frame.parentNode.insertBefore(box, frame); }
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

  // Number in the text, row of a table and point of a chart light up together; all go by address.
  function lightTogether() {
    var LIGHTS = '.number[popovertarget], tr[id], tr[data-address]';

    function addressesOf(element) {
      var target = element.getAttribute('popovertarget');
      if (target) { return [target.slice('working:'.length)]; }
      return (element.getAttribute('data-address') || element.id).split(' ').filter(Boolean);
    }

    function light(addresses) {
      document.querySelectorAll('.lit').forEach(function (each) { each.classList.remove('lit'); });
      addresses.forEach(function (address) {
        var own = CSS.escape(address);
        var alike = '[popovertarget="' + CSS.escape('working:' + address) + '"].number, tr#' + own + ', tr[data-address~="' + own + '"]';
        document.querySelectorAll(alike).forEach(function (each) { each.classList.add('lit'); });
      });
    }

    function pointed(event) {
      var element = event.target.closest && event.target.closest(LIGHTS);
      if (!element) { return; }
      var on = event.type === 'pointerover' || event.type === 'focusin';
      var addresses = on ? addressesOf(element) : [];
      light(addresses);
      document.dispatchEvent(new CustomEvent('benchgalley:light', { detail: { addresses: addresses } }));
    }

    ['pointerover', 'pointerout', 'focusin', 'focusout'].forEach(function (kind) {
      document.addEventListener(kind, pointed);
    });
    document.addEventListener('benchgalley:point', function (event) {
      var address = event.detail && event.detail.address;
      if (!address) { light([]); return; }
      var figure = event.target.closest && event.target.closest('figure');
      var row = figure && figure.querySelector('tr[data-address~="' + CSS.escape(address) + '"]');
      light(row ? addressesOf(row) : [address]);
    });
  }

  // A link to a row must show it with what it holds, even inside a closed disclosure or hidden by a filter, and a link
  // out of a popover must close it.
  function revealTarget() {
    var name = '';
    try { name = decodeURIComponent(location.hash.slice(1)); } catch (error) { return; }
    var target = name && document.getElementById(name);
    if (!target) {
      // Every address of a write-up is an anchor: those not on its page stand on the page of all numbers.
      var page = document.querySelector('[data-numbers]');
      if (page && /^#[a-z0-9-]+\/[a-z0-9/-]+$/.test(location.hash)) {
        location.replace(page.getAttribute('data-numbers') + location.hash);
      }
      return;
    }
    document.querySelectorAll('[popover]').forEach(function (each) {
      if (each.matches(':popover-open')) { each.hidePopover(); }
    });
    for (var each = target; each; each = each.parentElement) {
      each.hidden = false;
      if (each.tagName === 'DETAILS') { each.open = true; }
    }
    var own = target.querySelector(':scope > details, :scope > td > details');
    if (own) { own.open = true; }
    target.scrollIntoView({ block: 'center' });
    // A link may stand in the last column of a wide table: its target is to be read from the first one on.
    var frame = target.closest('.wide');
    if (frame) { frame.scrollLeft = 0; }
  }

  document.querySelectorAll('table[data-sort]').forEach(makeSortable);
  document.querySelectorAll('[data-filter]').forEach(makeFilterable);
  openForPrint();
  lightTogether();
  window.addEventListener('hashchange', revealTarget);
  revealTarget();
})();
