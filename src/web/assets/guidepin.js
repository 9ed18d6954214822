// SPDX-License-Identifier: Apache-2.0
// The page's own script: it keeps entries when the connection drops and sends them once, follows changes, and
// handles keys, swipes, timers and the theme. Everything else works without it.
(() => {
  'use strict';
  const queue_name = 'guidepin.kept';
  const by = (selector, root = document) => root.querySelector(selector);
  const all = (selector, root = document) => [...root.querySelectorAll(selector)];

  // ---- entries that wait -------------------------------------------------------------------------------------------
  const waiting = () => {
    try { return JSON.parse(localStorage.getItem(queue_name)) || []; } catch { return []; }
  };
  const store = (list) => localStorage.setItem(queue_name, JSON.stringify(list));
  const new_key = () => [...crypto.getRandomValues(new Uint8Array(12))].map((b) => b.toString(16).padStart(2, '0')).join('');
  let sending = false;
  let pause = 500;
  let timer = 0;
  let hindrance = ''; // the workbench's own reason why it could not take an entry

  function show_kept(said) {
    const strip = by('#kept');
    const list = waiting();
    strip.replaceChildren();
    strip.hidden = list.length === 0 && !said;
    if (strip.hidden) return;
    const words = document.createElement('span');
    const refused = list.filter((entry) => entry.refused);
    const kept = `${list.length} ${list.length === 1 ? 'entry is' : 'entries are'} kept on this device and will be sent`;
    words.textContent = said || (refused.length
      ? `${refused[0].what} was refused: ${refused[0].refused}`
      : hindrance ? `${kept} as soon as the workbench can take them. It says: ${hindrance}`
        : `${kept} when the connection is back. If it does not come back, load this page again: the workbench may have a new certificate.`);
    strip.append(words);
    if (refused.length) {
      const again = document.createElement('button');
      again.textContent = 'Send again';
      again.addEventListener('click', () => {
        store(waiting().map((entry) => ({ ...entry, refused: undefined })));
        send();
      });
      const drop = document.createElement('button');
      drop.textContent = 'Delete it';
      drop.addEventListener('click', () => {
        store(waiting().filter((entry) => entry.key !== refused[0].key));
        show_kept();
      });
      strip.append(again, drop);
    }
  }

  // Only one tab sends at a time if the browser supports locks; the server saves an entry once in any case.
  const alone = (work) => (navigator.locks ? navigator.locks.request('guidepin.send', work) : work());

  // Not the entry's fault: the server has a problem (5xx, or a 409 that says so), or asks for fewer requests.
  const passing = (answer) => answer.status >= 500 || [408, 425, 429].includes(answer.status) || answer.headers.has('X-Guidepin-Trouble');
  async function put_off(answer) {
    const plain = (answer.headers.get('Content-Type') || '').startsWith('text/plain');
    hindrance = ((plain && (await answer.text()).trim()) || `answer ${answer.status}`).slice(0, 300);
    pause = Math.max(pause, Math.min(Number(answer.headers.get('Retry-After')) || 0, 60) * 1000);
    return 'later';
  }

  async function send_one(entry) {
    const token = await fetch('/token', { cache: 'no-store' });
    if (token.status === 401 || token.redirected) return 'pair';
    if (!token.ok) return put_off(token);
    const form = new FormData();
    for (const [name, value] of entry.fields) form.append(name, value);
    const answer = await fetch(entry.address, {
      method: 'POST', body: form, redirect: 'manual',
      headers: { 'X-Guidepin-Token': (await token.text()).trim() },
    });
    if (answer.type === 'opaqueredirect' || answer.ok || answer.status === 303) return 'kept';
    if (passing(answer)) return put_off(answer);
    if (answer.status === 401) return 'pair';
    return (await answer.text()).trim() || `answer ${answer.status}`;
  }

  async function send() {
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    let said = '';
    await alone(async () => {
      for (;;) {
        const entry = waiting().find((one) => !one.refused);
        if (!entry) break;
        let outcome;
        hindrance = '';
        try { outcome = await send_one(entry); } catch { outcome = 'later'; }
        if (outcome === 'later' || outcome === 'pair') {
          if (outcome === 'pair') said = 'The session of this device has ended. Pair the device again (on the serving machine, open the next one-time address); it then sends what waits here.';
          timer = setTimeout(send, pause);
          pause = Math.min(pause * 2, 15000);
          break;
        }
        pause = 500;
        // Read the list again: another tab may have added an entry.
        store(outcome === 'kept' ? waiting().filter((one) => one.key !== entry.key)
          : waiting().map((one) => (one.key === entry.key ? { ...one, refused: outcome } : one)));
        if (outcome === 'kept') document.dispatchEvent(new CustomEvent('guidepin:kept', { detail: entry }));
      }
    });
    sending = false;
    show_kept(said);
  }

  function smaller(file) {
    return new Promise((done, failed) => {
      const picture = new Image();
      picture.onload = () => {
        for (let side = 1600, quality = 0.82; ; side *= 0.75, quality -= 0.08) {
          const scale = Math.min(1, side / Math.max(picture.width, picture.height));
          const canvas = document.createElement('canvas');
          canvas.width = Math.max(1, Math.round(picture.width * scale));
          canvas.height = Math.max(1, Math.round(picture.height * scale));
          canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
          const text = canvas.toDataURL('image/jpeg', quality);
          if (text.length < 500000 || side < 300) { URL.revokeObjectURL(picture.src); done(text); return; }
        }
      };
      picture.onerror = () => failed(new Error('The browser cannot read this file as a picture.'));
      picture.src = URL.createObjectURL(file);
    });
  }

  document.addEventListener('submit', async (event) => {
    const form = event.target.closest('form[data-keep]');
    if (!form) return;
    event.preventDefault();
    const button = by('button:not([type=button])', form);
    button.disabled = true;
    try {
      const fields = [];
      for (const [name, value] of new FormData(form)) {
        if (typeof value === 'string' && name !== 'token') fields.push([name, value]);
      }
      const camera = by('input[data-photo]', form);
      if (camera && camera.files[0]) fields.push([camera.dataset.photo, await smaller(camera.files[0])]);
      fields.push(['taken', new Date().toISOString()]);
      store([...waiting(), { key: by('[name=key]', form).value, address: form.getAttribute('action'), what: form.dataset.keep, fields }]);
      form.reset();
      by('[name=key]', form).value = new_key();
      await send();
    } catch (trouble) {
      show_kept(`Not saved: ${trouble.message} Your entry is still in the form.`);
    } finally {
      button.disabled = false;
    }
  });
  document.addEventListener('guidepin:kept', (event) => {
    show_kept(`${event.detail.what}: saved.`);
    setTimeout(() => show_kept(), 4000);
    follow();
  });
  addEventListener('online', () => { pause = 500; send(); });

  // ---- changes by others -------------------------------------------------------------------------------------------
  let stream = null;
  function follow() {
    if (window.htmx) htmx.trigger(document.body, 'gp:changed');
  }
  // A refresh keeps open folds open, and waits while somebody fills a form.
  const folds = new Map();
  const fold_name = (fold) => `${(fold.closest('[id]') || document.body).id} ${(by('summary', fold) || fold).textContent}`;
  const being_filled = (live) => all('form', live).some((form) => all('input:not([type=hidden]),textarea,select', form)
    .some((field) => field === document.activeElement || ('defaultValue' in field && field.value !== field.defaultValue)));
  // It also waits while a finger is down or another page is loading: the tap would be lost, or hit something else.
  let pressed = false;
  let leaving = false;
  document.addEventListener('htmx:beforeSwap', (event) => {
    const live = event.detail.target;
    if (!live.classList || !live.classList.contains('live')) return;
    const asked = event.detail.requestConfig || {};
    const refreshed = asked.triggeringEvent && asked.triggeringEvent.type === 'gp:changed';
    if (pressed || leaving || (refreshed && being_filled(live))) {
      event.detail.shouldSwap = false;
      // A delayed search is sent again; a refresh of the old list would undo it.
      live.dataset.late = refreshed ? live.dataset.late || 'yes' : `#${asked.elt.id}`;
      return;
    }
    folds.set(live.id, new Set(all('details[open]', live).map(fold_name)));
  });
  // A screen reader would read an unchanged banner again.
  document.addEventListener('htmx:oobBeforeSwap', (event) => {
    const old = event.detail.target;
    const next = event.detail.fragment && by('#banners', event.detail.fragment);
    if (old && old.id === 'banners' && next && next.innerHTML === old.innerHTML) event.detail.shouldSwap = false;
  });
  document.addEventListener('htmx:afterSwap', () => {
    for (const [id, open] of folds) {
      const live = document.getElementById(id);
      if (live) all('details', live).forEach((fold) => { if (open.has(fold_name(fold))) fold.open = true; });
    }
    folds.clear();
  });
  function catch_up() {
    for (const live of all('.live[data-late]')) {
      if (pressed || leaving || being_filled(live)) continue;
      const asked = live.dataset.late !== 'yes' && by(live.dataset.late);
      delete live.dataset.late;
      if (asked) htmx.trigger(asked, 'change'); else follow();
    }
  }
  for (const kind of ['focusout', 'input']) document.addEventListener(kind, () => setTimeout(catch_up));
  // A list that opens over a field may keep the release for itself.
  document.addEventListener('pointerdown', (event) => { pressed = !event.target.closest('select,input,textarea'); });
  for (const kind of ['pointerup', 'pointercancel']) {
    document.addEventListener(kind, () => setTimeout(() => { pressed = false; catch_up(); }, 100));
  }
  // Leaving may also mean saving a file: then the page stays and goes on after a while.
  addEventListener('beforeunload', () => {
    leaving = true;
    setTimeout(() => { leaving = false; catch_up(); }, 3000);
  });
  function listen() {
    if (stream || document.hidden || !document.body.dataset.token) return;
    stream = new EventSource('/events');
    stream.addEventListener('changed', (event) => {
      if (event.data === document.body.dataset.changes) return;
      document.body.dataset.changes = event.data;
      follow();
      if (waiting().length) send();
    });
    stream.onerror = () => {
      if (stream && stream.readyState === EventSource.CLOSED) { stream = null; setTimeout(listen, 3000); }
    };
  }
  document.addEventListener('visibilitychange', () => {
    // A hidden page frees its line: a phone that sleeps catches up when it wakes.
    if (document.hidden) { if (stream) stream.close(); stream = null; } else { listen(); send(); }
  });

  // ---- hands -------------------------------------------------------------------------------------------------------
  document.addEventListener('keydown', (event) => {
    const field = event.target.closest('input,textarea,select');
    if (event.key === 'Escape' && field) { field.blur(); return; }
    if (field || event.ctrlKey || event.metaKey || event.altKey) return;
    const target = all('[data-key]').find((one) => one.dataset.key === event.key);
    if (!target) return;
    event.preventDefault();
    if (target.matches('input')) target.focus(); else target.click();
  });
  let start = null;
  document.addEventListener('touchstart', (event) => {
    const inside = event.target.closest('.scroll,.wide,pre,input,textarea,select');
    start = event.touches.length === 1 && !(inside && inside.scrollWidth > inside.clientWidth)
      ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
  }, { passive: true });
  document.addEventListener('touchend', (event) => {
    if (!start || !by('[data-swipe]')) return;
    const x = event.changedTouches[0].clientX - start.x;
    const y = event.changedTouches[0].clientY - start.y;
    if (Math.abs(x) < 70 || Math.abs(y) > Math.abs(x) / 2) return;
    const target = by(`.heading a[rel=${x < 0 ? 'next' : 'prev'}]`);
    if (target) target.click();
  }, { passive: true });

  // ---- timers, by the clock so that a sleeping phone loses nothing ---------------------------------------------------
  function span(minutes) {
    const whole = Math.floor(minutes);
    return whole >= 60 ? `${Math.floor(whole / 60)} h ${whole % 60} min`
      : whole >= 1 ? `${whole} min` : `${Math.max(0, Math.floor(minutes * 60))} s`;
  }
  function tick() {
    for (const timer_text of all('.timer[data-until]')) {
      const left = (Number(timer_text.dataset.until) - Date.now()) / 60000;
      timer_text.textContent = left > 0 ? `${span(left)} left` : (timer_text.dataset.over || 'over');
    }
  }
  setInterval(tick, 1000);

  // ---- look --------------------------------------------------------------------------------------------------------
  function open_named() {
    const target = location.hash && document.getElementById(location.hash.slice(1));
    if (!target || target.tagName !== 'DETAILS') return;
    target.open = true;
    target.scrollIntoView();
    by('summary', target).focus();
  }
  addEventListener('hashchange', open_named);
  document.addEventListener('click', (event) => {
    // A second click on the same place changes no address, but has to open it too.
    if (event.target.closest && event.target.closest('a[href^="#"]')) setTimeout(open_named);
  });
  // The keyboard can reach a box only while it scrolls sideways.
  function reach() {
    for (const box of all('.scroll')) {
      if (box.scrollWidth > box.clientWidth + 1) box.tabIndex = 0; else box.removeAttribute('tabindex');
    }
  }
  addEventListener('resize', reach);
  document.addEventListener('toggle', reach, true);
  document.addEventListener('htmx:afterSettle', reach);
  function ready() {
    reach();
    const theme = by('#theme');
    if (theme) theme.addEventListener('click', () => {
      const now = document.documentElement.dataset.theme || '';
      const next = now === '' ? (matchMedia('(prefers-color-scheme:dark)').matches ? 'light' : 'dark')
        : now === 'dark' ? 'light' : 'dark';
      document.documentElement.dataset.theme = next;
      document.cookie = `gp_theme=${next}; path=/; max-age=31536000; samesite=strict`;
    });
    const here = by('.menu [aria-current]');
    if (here) here.scrollIntoView({ block: 'nearest', inline: 'center' });
    open_named();
    show_kept();
    listen();
    tick();
    if (waiting().length) send();
  }
  // Shows the text of a cell of the site map that is pointed at, tapped or reached by the arrow keys.
  function show_cell(cell) {
    const shown = by('#cell-text');
    const title = cell && cell.querySelector('title');
    if (!shown || !title) return;
    all('.mapped .here').forEach((one) => one.classList.remove('here'));
    cell.classList.add('here');
    const link = title.textContent.replace(/, position \d+:.*$/, '');
    const open = document.createElement('a');
    open.href = `/link?id=${encodeURIComponent(link)}`;
    open.textContent = `Open ${link}`;
    shown.replaceChildren(title.textContent, ' ', open);
  }
  function show_pointed(event) {
    const cell = event.target.closest && event.target.closest('.mapped g[role=group] g[role=group], .mapped g[role=group]:not(:has(g[role=group]))');
    if (cell) show_cell(cell);
  }
  document.addEventListener('pointerover', show_pointed);
  document.addEventListener('click', show_pointed);
  document.addEventListener('keydown', (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    const picture = step && event.target.closest('.mapped .picture');
    if (!picture) return;
    event.preventDefault();
    const cells = all('svg', picture).filter((one) => one.getBoundingClientRect().width > 0)
      .flatMap((one) => all('g[role=group]', one)).map((group) => {
        const words = (by('title', group) || {}).textContent || '';
        const at = words.match(/^(.*), position (\d+):/);
        return at && { group, link: at[1], position: Number(at[2]) };
      }).filter(Boolean);
    const links = [...new Set(cells.map((one) => one.link))];
    const here = cells.find((one) => one.group.classList.contains('here'));
    let next = cells[0];
    if (here && step[0]) {
      const line = cells.filter((one) => one.link === here.link);
      next = line[line.indexOf(here) + step[0]] || here;
    } else if (here) {
      const line = cells.filter((one) => one.link === links[links.indexOf(here.link) + step[1]]);
      next = line.find((one) => one.position >= here.position) || line[line.length - 1] || here;
    }
    if (next) { show_cell(next.group); next.group.scrollIntoView({ block: 'nearest' }); }
  });
  for (const kind of ['dragover', 'dragleave', 'drop']) {
    document.addEventListener(kind, (event) => {
      const place = event.target.closest && event.target.closest('.drop');
      if (!place) return;
      event.preventDefault();
      place.classList.toggle('over', kind === 'dragover');
      if (kind !== 'drop' || !event.dataTransfer.files.length) return;
      by('input[type=file]', place).files = event.dataTransfer.files;
    });
  }
  // ---- a code on a label -------------------------------------------------------------------------------------------
  // The server reads the code, because few browsers can. The page sends a small grey picture, and a photo again in
  // finer detail.
  async function read_code(source, width, height, widest) {
    const scale = Math.min(1, widest / Math.max(width, height));
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(width * scale));
    canvas.height = Math.max(1, Math.round(height * scale));
    const brush = canvas.getContext('2d', { willReadFrequently: true });
    brush.fillStyle = '#fff'; // transparent parts become white
    brush.fillRect(0, 0, canvas.width, canvas.height);
    brush.drawImage(source, 0, 0, canvas.width, canvas.height);
    const { data } = brush.getImageData(0, 0, canvas.width, canvas.height);
    const grey = new Uint8Array(canvas.width * canvas.height);
    for (let i = 0, at = 0; i < grey.length; ++i, at += 4) grey[i] = (data[at] * 77 + data[at + 1] * 150 + data[at + 2] * 29) >> 8;
    const form = new FormData();
    form.append('width', canvas.width);
    form.append('height', canvas.height);
    form.append('picture', new Blob([grey]), 'grey');
    const answer = await fetch('/links/code', { method: 'POST', body: form, headers: { 'X-Guidepin-Token': document.body.dataset.token } });
    if (!answer.ok) throw new Error((await answer.text()).trim() || `answer ${answer.status}`);
    return answer.json();
  }
  function scanner() {
    const button = by('#scan');
    if (!button) return;
    const box = by('#scan-box');
    const video = by('video', box);
    const photo = by('#scan-photo');
    const say = (words) => { by('#scan-message').textContent = words; };
    let camera = null;
    const end = () => {
      if (camera) camera.getTracks().forEach((track) => track.stop());
      camera = null;
      video.srcObject = null;
      box.hidden = true;
      button.setAttribute('aria-expanded', 'false');
    };
    const led = (seen) => {
      if (seen.address) { end(); location.assign(seen.address); return true; }
      if (seen.text) say(`The code says “${seen.text.slice(0, 80)}”: no link of this job.`);
      return false;
    };
    async function look() {
      video.hidden = true;
      say('');
      let opened;
      try {
        opened = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment', width: { ideal: 1280 } } });
      } catch {
        say('The camera cannot be used here: take a photo of the code.');
        return;
      }
      if (box.hidden) { opened.getTracks().forEach((track) => track.stop()); return; } // closed meanwhile
      camera = opened;
      video.hidden = false;
      video.srcObject = opened;
      await video.play();
      // The result of a photo stays.
      if (!by('#scan-message').textContent) say('Hold the code so that it fills a third of the picture.');
      while (camera === opened) {
        if (video.videoWidth) {
          try { if (led(await read_code(video, video.videoWidth, video.videoHeight, 800))) return; } catch (trouble) { say(trouble.message); }
        }
        await new Promise((next) => setTimeout(next, 200));
      }
    }
    button.hidden = false;
    button.setAttribute('aria-expanded', 'false');
    button.addEventListener('click', () => {
      if (!box.hidden) { end(); return; }
      box.hidden = false;
      button.setAttribute('aria-expanded', 'true');
      if (navigator.mediaDevices) { look().catch((trouble) => say(trouble.message)); return; }
      // Without a secure connection a page gets no camera, but the device's own camera gives it a photo.
      video.hidden = true;
      say('Take a photo of the code.');
      photo.click();
    });
    by('#scan-end').addEventListener('click', () => { end(); button.focus(); });
    photo.addEventListener('change', () => {
      if (!photo.files[0]) return;
      const picture = new Image();
      const address = URL.createObjectURL(photo.files[0]);
      picture.onload = async () => {
        try {
          say('Looking for a code…');
          let seen = {};
          for (const widest of [800, 1600]) {
            seen = await read_code(picture, picture.naturalWidth, picture.naturalHeight, widest);
            if (seen.text) break;
          }
          if (!led(seen) && !seen.text) say('No code can be read in this photo: move closer and hold still.');
        } catch (trouble) {
          say(trouble.message);
        } finally {
          URL.revokeObjectURL(address);
          photo.value = '';
        }
      };
      picture.onerror = () => { URL.revokeObjectURL(address); say('The browser cannot read this file as a picture.'); };
      picture.src = address;
    });
    addEventListener('pagehide', end);
  }
  // ---- a pairing code that was scanned -----------------------------------------------------------------------------
  // It comes after "#", which is never sent; it leaves the address at once, so that it stays in no history. It is not
  // sent by itself: first a person compares the fingerprint. Nor is the fingerprint shown here: a page that somebody
  // else sent could show any.
  function scanned() {
    const code = (location.hash.match(/^#code=(\d{8}(?:\d{8})?)(?:&|$)/) || [])[1];
    const field = code && by('form[action="/pair"] [name=code]');
    if (!field) return;
    history.replaceState(null, '', location.pathname);
    field.value = code;
    by('#scanned').hidden = false;
  }
  addEventListener('hashchange', scanned);
  document.addEventListener('DOMContentLoaded', () => {
    scanned();
    ready();
    scanner();
  });
  addEventListener('pageshow', (event) => { if (event.persisted) { listen(); send(); } });
})();
