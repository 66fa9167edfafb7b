// Makes a chart live when it is first seen: loads the runtime once, reads the specification that stands beside
// the picture and puts a view in its place. Whatever fails, the static picture stays.
(function () {
  'use strict';
  var runtime = document.currentScript.getAttribute('data-runtime');
  var figures = document.querySelectorAll('figure.chart-plate');
  figures.forEach(offerPicture);
  if (!runtime || !('IntersectionObserver' in window)) { return; }
  var waiting = null;

  // The chart as PNG is drawn by the browser from the static picture, with the line that names its source.
  function offerPicture(figure) {
    var svg = figure.querySelector('.picture svg');
    var place = figure.querySelector('.fetch');
    if (!svg || !place || !svg.viewBox.baseVal) { return; }
    var copy = svg.cloneNode(true);
    var button = document.createElement('button');
    button.type = 'button';
    button.className = 'as-link';
    button.textContent = 'PNG';
    place.append(' or ', button);
    button.addEventListener('click', function () {
      var box = svg.viewBox.baseVal, line = 20, scale = 2;
      var picture = new Image();
      copy.setAttribute('xmlns', 'http://www.w3.org/2000/svg');
      copy.setAttribute('width', box.width * scale);
      copy.setAttribute('height', box.height * scale);
      picture.addEventListener('load', function () {
        var canvas = document.createElement('canvas');
        var pen = canvas.getContext('2d');
        canvas.width = box.width * scale;
        canvas.height = (box.height + line) * scale;
        pen.fillStyle = '#ffffff';
        pen.fillRect(0, 0, canvas.width, canvas.height);
        pen.drawImage(picture, 0, 0);
        pen.fillStyle = '#545e59';
        pen.font = 11 * scale + 'px sans-serif';
        pen.fillText(figure.getAttribute('data-source') || '', 4 * scale, (box.height + 14) * scale);
        canvas.toBlob(function (blob) {
          var link = document.createElement('a');
          link.href = URL.createObjectURL(blob);
          link.download = figure.id.replace('figure-', '') + '.png';
          link.click();
          setTimeout(function () { URL.revokeObjectURL(link.href); }, 10000);
        }, 'image/png');
      });
      picture.src = 'data:image/svg+xml;charset=utf-8,' + encodeURIComponent(new XMLSerializer().serializeToString(copy));
    });
  }

  function load() {
    if (waiting) { return waiting; }
    waiting = new Promise(function (done, failed) {
      if (window.benchgalleyCharts) { done(window.benchgalleyCharts); return; }
      var script = document.createElement('script');
      script.addEventListener('load', function () { done(window.benchgalleyCharts); });
      script.addEventListener('error', failed);
      var address = runtime;
      if (window.trustedTypes && window.trustedTypes.createPolicy) {
        // The only script address ever set is the one the page itself was built with.
        address = window.trustedTypes.createPolicy('benchgalley-runtime', {
          createScriptURL: function (url) {
            if (url !== runtime) { throw new TypeError('not the chart runtime'); }
            return url;
          }
        }).createScriptURL(runtime);
      }
      script.src = address;
      document.head.appendChild(script);
    });
    return waiting;
  }

  var live = [];

  function enliven(figure) {
    var holder = figure.querySelector('.chart-spec');
    var picture = figure.querySelector('.picture');
    if (!holder || !picture) { return; }
    load().then(function (charts) {
      return charts.draw(picture, JSON.parse(holder.textContent)).then(function (view) {
        // The picture as a whole has role and name; its parts must not announce themselves once more.
        picture.querySelectorAll('svg [role], svg [aria-roledescription], svg[role]').forEach(function (part) {
          ['role', 'aria-roledescription', 'aria-label', 'aria-hidden'].forEach(function (name) {
            part.removeAttribute(name);
          });
        });
        live.push(view);
        figure.classList.add('is-live');
      });
    }).catch(function () { /* the static picture stays */ });
  }

  // Chart, table and text light up together: both directions go by the address of the number.
  document.addEventListener('benchgalley:point', function (event) {
    var address = event.detail && event.detail.address;
    document.querySelectorAll('.lit').forEach(function (each) { each.classList.remove('lit'); });
    if (!address) { return; }
    var row = document.getElementById(address);
    if (row) { row.classList.add('lit'); }
    document.querySelectorAll('[popovertarget="' + CSS.escape('working:' + address) + '"]').forEach(function (number) {
      number.classList.add('lit');
    });
  });
  document.addEventListener('benchgalley:light', function (event) {
    live.forEach(function (view) { window.benchgalleyCharts.highlight(view, event.detail.address); });
  });

  var seen = new IntersectionObserver(function (entries) {
    entries.forEach(function (entry) {
      if (entry.isIntersecting) {
        seen.unobserve(entry.target);
        enliven(entry.target);
      }
    });
  }, { rootMargin: '200px' });
  figures.forEach(function (figure) { seen.observe(figure); });
})();
