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
      var spec = JSON.parse(holder.textContent);
      return charts.draw(picture, spec).then(function (view) {
        // The picture as a whole has role and name; its parts must not announce themselves once more.
        picture.querySelectorAll('svg [role], svg [aria-roledescription], svg[role]').forEach(function (part) {
          ['role', 'aria-roledescription', 'aria-label', 'aria-hidden'].forEach(function (name) {
            part.removeAttribute(name);
          });
        });
        live.push({ view: view, drawn: addressesIn(spec.data, []) });
        figure.classList.add('is-live');
      });
    }).catch(function () { /* the static picture stays */ });
  }

  // Of several points the one of the very address is lit, else that of the same quantity, else the setting's only one.
  function pointFor(drawn, address) {
    if (drawn.indexOf(address) >= 0) { return address; }
    var parts = address.split('/');
    var same = function (count) {
      var start = parts.slice(0, count).join('/') + '/';
      return drawn.filter(function (each) { return (each + '/').indexOf(start) === 0; });
    };
    var alike = same(2), beside = same(1);
    return alike.length === 1 ? alike[0] : beside.length === 1 ? beside[0] : null;
  }

  function addressesIn(value, found) {
    if (Array.isArray(value)) {
      value.forEach(function (each) { addressesIn(each, found); });
    } else if (value && typeof value === 'object') {
      if (typeof value.address === 'string' && found.indexOf(value.address) < 0) { found.push(value.address); }
      Object.keys(value).forEach(function (key) { addressesIn(value[key], found); });
    }
    return found;
  }

  document.addEventListener('benchgalley:light', function (event) {
    live.forEach(function (chart) {
      var points = event.detail.addresses.map(function (address) { return pointFor(chart.drawn, address); });
      window.benchgalleyCharts.highlight(chart.view, points.filter(Boolean)[0] || null);
    });
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
