/* Served by `benchgalley preview` only, never published: shows problems on the page and reloads it after a save. */
(function () {
  'use strict';

  var own = document.currentScript;
  var served = own.getAttribute('data-build');

  function element(name, className, text) {
    var made = document.createElement(name);
    if (className) { made.className = className; }
    if (text) { made.textContent = text; }
    return made;
  }

  function show(report) {
    if (!report.problems.length) { return; }
    var whole = document.body.hasAttribute('data-preview-page');
    var panel = element(whole ? 'main' : 'aside', 'preview-problems');
    if (!whole) { panel.setAttribute('aria-label', 'Problems found by the preview'); }
    var box = element('details');
    box.open = true;
    box.appendChild(element('summary', '', report.summary));
    if (report.stale) { box.appendChild(element('p', '', 'The page below is the last one that could be built.')); }
    var list = element('ol');
    report.problems.forEach(function (problem) {
      var item = element('li', problem.severity);
      item.appendChild(element('pre', '', problem.text));
      list.appendChild(item);
    });
    box.appendChild(list);
    panel.appendChild(box);
    document.body.insertBefore(panel, document.body.firstChild);
  }

  function listen() {
    var stream = new EventSource('/preview/changes');
    stream.onmessage = function (event) {
      if (event.data !== served) {
        stream.close();
        location.reload();
      }
    };
  }

  fetch('/preview/problems.json').then(function (answer) { return answer.json(); }).then(show).catch(function () {});
  listen();
})();
