// The proof's own program: pages unpacked as they come into view, list and signs linked both ways,
// filters, jumps, playback, and where a note comes from. It asks nothing of the network.
"use strict";
(() => {
  const one = (selector, within = document) => within.querySelector(selector);
  const all = (selector, within = document) => [...within.querySelectorAll(selector)];
  const data = JSON.parse(one("#data").textContent);
  const pages = all(".page");
  const state = { bar: 0, staff: "", zoom: 1, here: -1 };
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;

  new ResizeObserver(() => document.documentElement.style.setProperty(
    "--head", `${one("header").offsetHeight}px`,
  )).observe(one("header"));

  // Pages -----------------------------------------------------------------------------------

  const unpack = async (id) => {
    const bytes = Uint8Array.from(atob(one(id).textContent), (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).text();
  };
  const opened = new Map();

  const open = (number) => {
    if (!opened.has(number)) {
      opened.set(number, unpack(`#packed-${number}`).then((svg) => {
        const page = pages[number];
        if (!opened.has(number)) return page;
        page.innerHTML = svg.slice(svg.indexOf("<svg"));
        one("svg", page).setAttribute("role", "group");
        page.dataset.open = "yes";
        dress(page);
        return page;
      }));
    }
    return opened.get(number);
  };

  const close = (number) => {
    const page = pages[number];
    if (!opened.delete(number) || page.contains(document.activeElement)) return;
    delete page.dataset.open;
    page.innerHTML = `<p class="waiting">${page.getAttribute("aria-label")}</p>`;
  };

  const near = new IntersectionObserver((seen) => seen.forEach((entry) => {
    if (entry.isIntersecting) open(+entry.target.dataset.number);
  }), { rootMargin: "1200px 0px" });
  const far = new IntersectionObserver((seen) => seen.forEach((entry) => {
    if (!entry.isIntersecting) close(+entry.target.dataset.number);
  }), { rootMargin: "9000px 0px" });
  pages.forEach((page) => { near.observe(page); far.observe(page); });

  const dress = (page) => {
    all(".sign", page).forEach((sign) => {
      const number = +sign.id.slice(5);
      sign.toggleAttribute("hidden", one(`#finding-${number}`).hidden);
      sign.classList.toggle("here", number === state.here);
    });
    showCursor(page);
    showStaff(page);
  };

  const pageOfBar = (bar) => {
    let found = 0;
    data.firsts.forEach((first, number) => { if (first <= bar) found = number; });
    return found;
  };

  const middle = (element, focus) => {
    element.scrollIntoView({ block: "center", inline: "center", behavior: still ? "auto" : "smooth" });
    if (focus) element.focus({ preventScroll: true });
  };

  // Findings: list and signs ------------------------------------------------------------------

  const items = all("#findings li[data-severity]");

  const choose = (number) => {
    state.here = number;
    items.forEach((item, i) => item.classList.toggle("here", i === number));
    all(".sign").forEach((sign) => sign.classList.toggle("here", sign.id === `sign-${number}`));
  };

  const toSign = async (number) => {
    const [page, bar] = data.findings[number];
    choose(number);
    setBar(bar);
    const shown = await open(page < 0 ? pageOfBar(bar) : page);
    const sign = one(`#sign-${number}`, shown);
    middle(sign || shown, Boolean(sign));
  };

  const toItem = (number) => {
    const item = items[number];
    if (item.hidden) showAll();
    choose(number);
    setBar(data.findings[number][1]);
    item.scrollIntoView({ block: "nearest" });
    item.focus({ preventScroll: true });
  };

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a");
    if (link?.dataset.number) { event.preventDefault(); toSign(+link.dataset.number); }
    else if (link?.classList.contains("sign")) { event.preventDefault(); toItem(+link.id.slice(5)); }
    else if (event.target.closest?.("#pages")) inPage(event.target);
  });

  const step = (way) => {
    const shown = items.map((item, i) => (item.hidden ? -1 : i)).filter((i) => i >= 0);
    if (!shown.length) return;
    const after = shown.filter((i) => (way > 0 ? i > state.here : i < state.here));
    const next = way > 0 ? after[0] ?? shown[0] : after[after.length - 1] ?? shown[shown.length - 1];
    items[next].scrollIntoView({ block: "nearest" });
    toSign(next);
  };
  one("#before").onclick = () => step(-1);
  one("#after").onclick = () => step(1);

  // Filters -----------------------------------------------------------------------------------

  const ticked = (name) => new Set(all(`input[name="${name}"]:checked`).map((box) => box.value));

  const filter = () => {
    const severities = ticked("severity"), checks = ticked("check");
    let shown = 0;
    items.forEach((item) => {
      item.hidden = !severities.has(item.dataset.severity) || !checks.has(item.dataset.check);
      shown += !item.hidden;
    });
    all(".sign").forEach((sign) => sign.toggleAttribute("hidden", one(`#finding-${sign.id.slice(5)}`).hidden));
    one("#count").textContent = shown === items.length ? `${shown}` : `${shown} of ${items.length} shown`;
    remember();
  };
  const tick = (name, on) => { all(`input[name="${name}"]`).forEach((box) => { box.checked = on; }); };
  const showAll = () => { tick("severity", true); tick("check", true); filter(); };
  all('input[name="severity"], input[name="check"]').forEach((box) => { box.onchange = filter; });
  if (one("#all-checks")) {
    one("#all-checks").onclick = () => { tick("check", true); filter(); };
    one("#no-checks").onclick = () => { tick("check", false); filter(); };
  }

  // Places: bar, mark, player, size -------------------------------------------------------------

  const setBar = (bar) => {
    state.bar = Math.max(0, Math.min(bar, data.bars.length - 1));
    if (document.activeElement !== one("#bar")) one("#bar").value = data.bars[state.bar] ?? "";
    all(".page[data-open]").forEach(showCursor);
    remember();
  };

  const box = (bar, page) => {
    const staves = all(`[id="m${bar}"] > g.staff`, page);
    const lines = staves.flatMap((staff) => all(":scope > path", staff));
    if (!lines.length) return null;
    const boxes = lines.map((line) => line.getBBox());
    const x = Math.min(...boxes.map((b) => b.x)), y = Math.min(...boxes.map((b) => b.y));
    const right = Math.max(...boxes.map((b) => b.x + b.width));
    const bottom = Math.max(...boxes.map((b) => b.y + b.height));
    return { x, y: y - 300, width: right - x, height: bottom - y + 600 };
  };

  const showCursor = (page) => {
    one(".cursor", page)?.remove();
    const place = box(state.bar, page);
    if (!place) return;
    const shade = document.createElementNS("http://www.w3.org/2000/svg", "rect");
    shade.setAttribute("class", "cursor");
    Object.entries(place).forEach(([key, value]) => shade.setAttribute(key, value));
    one(".page-margin", page).append(shade);
  };

  const toBar = async (bar) => {
    setBar(bar);
    const page = await open(pageOfBar(state.bar));
    const staff = state.staff && one(`[id="m${state.bar}"] > g.staff[data-n="${state.staff}"]`, page);
    middle(staff || one(`[id="m${state.bar}"]`, page) || page, false);
  };

  one("#go-bar").onsubmit = (event) => {
    event.preventDefault();
    const wanted = one("#bar").value.trim();
    const bar = data.bars.indexOf(wanted);
    one("#bar").setAttribute("aria-invalid", bar < 0);
    one("#sounding").textContent = bar < 0 ? `no bar ${wanted}` : "";
    if (bar >= 0) toBar(bar);
  };
  if (one("#mark")) one("#mark").onchange = (event) => { if (event.target.value) toBar(+event.target.value); };

  const showStaff = (page) => {
    all("g.staff", page).forEach((staff) => {
      const quiet = state.staff && staff.dataset.n !== state.staff;
      staff.style.opacity = quiet ? ".38" : "";
    });
  };
  one("#player").onchange = (event) => {
    state.staff = event.target.value;
    all(".page[data-open]").forEach(showStaff);
    if (state.staff) toBar(state.bar);
    remember();
  };

  const resize = (zoom) => {
    state.zoom = Math.min(3, Math.max(0.4, zoom));
    document.documentElement.style.setProperty("--zoom", state.zoom);
    remember();
  };
  const resizeHere = (zoom) => { resize(zoom); toBar(state.bar); };
  one("#smaller").onclick = () => resizeHere(state.zoom / 1.25);
  one("#larger").onclick = () => resizeHere(state.zoom * 1.25);

  // A note and where it comes from --------------------------------------------------------------

  let origins = null;
  const inPage = async (target) => {
    const bar = target.closest("g.measure");
    const note = target.closest("g.note");
    if (bar && !note) setBar(+bar.id.slice(1));
    all(".note.from").forEach((old) => old.classList.remove("from"));
    if (!note || !data.above) return;
    origins = origins || unpack("#origins").then(JSON.parse);
    const known = await origins;
    const sources = known[note.id] || [note.id];
    const mine = Object.keys(known).filter((id) => known[id].includes(note.id));
    [note.id, ...sources, ...mine].forEach((id) => document.getElementById(id)?.classList.add("from"));
  };

  // Listening -----------------------------------------------------------------------------------

  const DRUMS = 9;
  const player = { context: null, synths: [], places: new Map(), tracks: null, timer: 0 };

  const synth = (number) => {
    while (player.synths.length <= number) {
      const made = new WebAudioTinySynth({ internalcontext: 0, useReverb: 1, voices: 48 });
      made.setAudioContext(player.context, player.out);
      made.setMasterVol(0.35);
      player.synths.push(made);
    }
    return player.synths[number];
  };

  const channel = (track, program) => {
    if (!program) return [synth(0), DRUMS];
    const key = `${track} ${program}`;
    if (!player.places.has(key)) {
      const next = player.places.size, place = next % 15;
      const found = [synth(Math.floor(next / 15)), place < DRUMS ? place : place + 1];
      found[0].setProgram(found[1], program - 1);
      player.places.set(key, found);
    }
    return player.places.get(key);
  };

  // Repeats and jumps: stretches of bars in the order in which they are played, with their times.
  const runs = [];
  data.runs.forEach(([first, last]) => {
    const before = runs[runs.length - 1], from = data.times[first], to = data.times[last + 1];
    runs.push({ first, last, from, to, at: before ? before.at + before.to - before.from : 0 });
  });
  const length = () => { const last = runs[runs.length - 1]; return last ? last.at + last.to - last.from : 0; };

  const asPlayed = (notes) => runs.flatMap((run) => notes
    .filter((note) => note[0] >= run.from && note[0] < run.to)
    .map(([at, ...rest]) => [at - run.from + run.at, ...rest]));

  const play = async () => {
    player.context = player.context || new AudioContext();
    await player.context.resume();
    if (!player.out) {
      player.out = player.context.createGain();
      player.out.connect(player.context.destination);
    }
    player.tracks = player.tracks || JSON.parse(await unpack("#sound"))
      .map((track) => ({ ...track, notes: asPlayed(track.notes) }));
    const run = runs.find(({ first, last }) => first <= state.bar && state.bar <= last) || runs[0];
    const from = run ? Math.max(0, data.times[state.bar] - run.from) + run.at : 0;
    player.pace = +one("#pace").value;
    player.zero = player.context.currentTime + 0.15 - from / 1000 / player.pace;
    player.next = player.tracks.map((track) => track.notes.findIndex((note) => note[0] >= from - 1));
    player.sent = 0;
    one("#play").setAttribute("aria-pressed", "true");
    one("#play").textContent = "Stop";
    player.out.gain.setValueAtTime(1, player.context.currentTime);
    player.timer = setInterval(feed, 80);
    feed();
  };

  const when = (ms) => player.zero + ms / 1000 / player.pace;

  const feed = () => {
    const until = player.context.currentTime + 0.4;
    const heard = ticked("voice");
    player.tracks.forEach((track, t) => {
      let next = player.next[t];
      while (next >= 0 && next < track.notes.length && when(track.notes[next][0]) < until) {
        const [at, length, key, velocity, program] = track.notes[next++];
        if (!heard.has(`${t}`)) continue;
        const [instrument, place] = channel(t, program);
        instrument.send([0x90 | place, key, velocity], when(at));
        instrument.send([0x80 | place, key, 0], when(at + length));
        player.sent += 1;
      }
      player.next[t] = next;
    });
    follow();
  };

  const follow = () => {
    const now = (player.context.currentTime - player.zero) * 1000 * player.pace;
    if (now >= length()) { stop(); return; }
    const run = runs.find((one) => now < one.at + one.to - one.from);
    let bar = run.first;
    while (bar < run.last && data.times[bar + 1] - run.from + run.at <= now) bar += 1;
    one("#sounding").textContent = `bar ${data.bars[bar]}`;
    if (bar === state.bar) return;
    const turned = pageOfBar(bar) !== pageOfBar(state.bar);
    setBar(bar);
    if (turned) toBar(bar);
  };

  const stop = () => {
    clearInterval(player.timer);
    player.timer = 0;
    player.out?.gain.setValueAtTime(0, player.context.currentTime);
    player.synths.forEach((made) => { for (let i = 0; i < 16; i += 1) made.allSoundOff(i); });
    one("#play").setAttribute("aria-pressed", "false");
    one("#play").textContent = "Play from this bar";
    one("#sounding").textContent = "";
  };
  one("#play").onclick = () => (player.timer ? stop() : play());
  one("#who").onkeydown = (event) => {
    if (event.key !== "Escape") return;
    one("#who").open = false;
    one("#who summary").focus();
  };
  one("#all-play").onclick = () => tick("voice", true);
  one("#none-play").onclick = () => tick("voice", false);

  // The same place after a new version ------------------------------------------------------------

  const KEY = `proof ${location.pathname}`;
  let ready = false;
  const remember = () => {
    if (!ready || !document.body.dataset.live) return;
    const off = (name) => all(`input[name="${name}"]:not(:checked)`).map((b) => b.value);
    const kept = { ...state, severity: off("severity"), check: off("check"), voice: off("voice") };
    sessionStorage.setItem(KEY, JSON.stringify(kept));
  };

  const topBar = () => {
    const visible = pages.find((page) => page.getBoundingClientRect().bottom > 160 && page.dataset.open);
    const bars = visible ? all("g.measure", visible) : [];
    const found = bars.find((bar) => bar.getBoundingClientRect().bottom > 160);
    return found ? { bar: +found.id.slice(1), top: found.getBoundingClientRect().top } : null;
  };

  const restore = async () => {
    const kept = JSON.parse(sessionStorage.getItem(KEY) || "null");
    if (!kept) return;
    resize(kept.zoom);
    ["severity", "check", "voice"].forEach((name) => kept[name].forEach((value) => {
      const found = all(`input[name="${name}"]`).find((b) => b.value === value);
      if (found) found.checked = false;
    }));
    one("#player").value = state.staff = kept.staff;
    setBar(kept.bar);
    if (kept.view) {
      const page = await open(pageOfBar(kept.view.bar));
      const bar = one(`[id="m${kept.view.bar}"]`, page) || page;
      scrollTo({ top: scrollY + bar.getBoundingClientRect().top - kept.view.top, behavior: "instant" });
    }
  };

  const listen = () => {
    const source = new EventSource(document.body.dataset.live);
    source.addEventListener("fresh", () => {
      remember();
      const kept = JSON.parse(sessionStorage.getItem(KEY) || "{}");
      sessionStorage.setItem(KEY, JSON.stringify({ ...kept, view: topBar() }));
      location.reload();
    });
    source.addEventListener("mistake", (event) => alarm(JSON.parse(event.data)));
    source.addEventListener("well", () => alarm(""));
  };

  const alarm = (text) => {
    one("#alarm").textContent = text;
    one("#alarm").hidden = !text;
  };

  const begin = async () => {
    if (document.body.dataset.live) {
      history.scrollRestoration = "manual";
      await restore();
      listen();
    }
    ready = true;
    filter();
    setBar(state.bar);
    const asked = location.hash.match(/^#(sign|finding)-(\d+)$/);
    if (asked && items[+asked[2]]) (asked[1] === "sign" ? toSign : toItem)(+asked[2]);
    document.body.dataset.ready = "yes";
  };

  window.proof = { state, player, open, toBar };
  begin();
})();
