// What the page does beyond its forms: it keeps itself up to date, says so when
// it cannot, and sends nothing into the void. Without it everything else works.
"use strict";
(() => {
  const body = document.body;
  const main = document.getElementById("main");
  const news = document.getElementById("news");
  const line = document.getElementById("line");
  const unsent = document.getElementById("unsent");
  const held = new Map(); // parts that wait until nobody is typing in the old ones
  const all = (what, within = document) => [...within.querySelectorAll(what)];
  let at = body.dataset.at;
  let stream = null;

  // Both times: where the browser is, and UTC.
  const utc = (d) => d.toISOString().slice(11, 16) + "Z";
  const hour = (d) => d.toTimeString().slice(0, 5);
  const clock = document.getElementById("clock");
  const day = document.getElementById("day");
  // As the server says it: a page that stays open has weather that grows older.
  function age(ms) {
    const min = Math.floor(ms / 60000);
    return (min < 120 ? min + " min" : min < 2880 ? Math.floor(min / 60) + " h" : Math.floor(min / 1440) + " days") + " old";
  }
  function tick() {
    const now = new Date();
    clock.textContent = (now.getTimezoneOffset() ? hour(now) + " · " : "") + utc(now);
    day.textContent = now.toUTCString().slice(0, 16);
    if (!kept) all(".old").forEach((o) => { const a = age(now - o.made); if (o.textContent !== a) o.textContent = a; });
    if (!document.hidden) watch(now);
  }

  // Live is true or not said. A beat comes from the server; parts say how old
  // they were when they were made.
  let beat = new Date();
  let open = false;
  const quiet = Number(body.dataset.beat);
  const kept = "kept" in body.dataset;
  function tell(text, bad) {
    if (!line || line.textContent === text) return;
    line.textContent = text;
    line.classList.remove("as");
    line.classList.toggle("bad", bad);
    body.classList.toggle("stale", bad);
  }
  function heard() {
    beat = new Date();
    open = true;
    watch(beat);
    if (!unsent.hidden) unsent.textContent = unsent.textContent.replace(/ cannot be reached.*/, " could not be reached. It can be now: try again.");
  }
  function watch(now) {
    if (kept) return tell(location.pathname === "/" ? "Not live. This is how it stood at " + body.dataset.made + "." : "Not live: this page cannot be reached. Below is the last answer, as of " + body.dataset.made + ".", true);
    if (!stream) return;
    const board = document.getElementById("board");
    const looked = board?.dataset.age !== undefined && now - board.made > board.dataset.late * 1000;
    if (stream.readyState === EventSource.CLOSED) tell("Not live since " + utc(beat) + ": reload the page.", true);
    else if (now - beat > quiet || !open && now - beat > 1000) tell("Not live since " + utc(beat) + ": what stands here may be old.", true);
    else if (looked) tell("Not live since " + utc(board.made) + ": nobody has looked at the weather.", true);
    else if (open) tell("Live.", false);
  }
  function born(within) {
    for (const b of [within, ...all("[data-age]", within)]) if (b.dataset?.age !== undefined) b.made = new Date(Date.now() - b.dataset.age * 1000);
  }

  // What is a tap away comes unfolded, for whoever has no script.
  const wide = matchMedia("(min-width: 64rem)");
  function fold(within) {
    all("details.fold", within).forEach((d) => { d.open = d.classList.contains("side") && wide.matches; });
    all(".behind", within).forEach((b) => { b.hidden = true; });
    all(".tomore", within).forEach((a) => { a.setAttribute("role", "button"); a.setAttribute("aria-expanded", "false"); });
    all(".copy", within).forEach((b) => { b.hidden = "copy" in b.dataset && !navigator.clipboard; });
  }
  function more(a) {
    const behind = document.getElementById(a.hash.slice(1));
    behind.hidden = !behind.hidden;
    a.setAttribute("aria-expanded", String(!behind.hidden));
    if (behind.hidden) return;
    behind.scrollIntoView({ block: "nearest" });
    behind.querySelector("summary, button, a")?.focus();
  }
  let shut = []; // by hand, while it is printed
  addEventListener("beforeprint", () => {
    shut = all("details:not([open])");
    shut.forEach((d) => { d.open = true; });
  });
  addEventListener("afterprint", () => shut.forEach((d) => { d.open = false; }));
  wide.addEventListener("change", () => all("details.side").forEach((d) => { d.open = wide.matches; }));

  function put(part) {
    const old = document.getElementById(part.id);
    const into = part.into && document.getElementById(part.into);
    if (!old && !into) return;
    const focus = document.activeElement;
    if (old && old.contains(focus) && focus.matches("input, textarea")) {
      held.set(part.id, part);
      return;
    }
    const t = document.createElement("template");
    t.innerHTML = part.html;
    const fresh = t.content.firstElementChild;
    fold(fresh);
    born(fresh);
    if (!old) {
      all(".first, .none", into.parentElement).forEach((e) => e.remove());
      into.prepend(fresh);
      return;
    }
    // What was unfolded stays so, and the focus where it was.
    const name = (d) => d.id || d.querySelector("summary").textContent;
    const were = new Map(all("details", old).map((d) => [name(d), d.open]));
    all("details", fresh).forEach((d) => { d.open = were.get(name(d)) ?? d.open; });
    all(".tomore[aria-expanded=true]", old).forEach((a) => {
      const again = fresh.querySelector('.tomore[href="' + a.getAttribute("href") + '"]');
      if (!again) return;
      again.setAttribute("aria-expanded", "true");
      fresh.querySelector(again.hash).hidden = false;
    });
    const way = "a, button, summary";
    const inside = part.id === "board" ? unpanel() : null;
    const place = old.contains(focus) ? all(way, old).indexOf(focus) : -1;
    const whole = focus === old;
    const within = old.contains(focus) ? focus.id : "";
    old.replaceWith(fresh);
    if (fresh.id === "board") {
      turn(0);
      repanel(inside);
    }
    if (whole) fresh.focus({ preventScroll: true });
    else if (place >= 0) (all(way, fresh)[place] ?? fresh).focus({ preventScroll: true });
    else if (within) document.getElementById(within)?.focus({ preventScroll: true });
  }

  // A row of the board opens its base: beside it where there is room, else
  // below the row. Without this it is a page of its own.
  const beside = document.getElementById("beside");
  const room = matchMedia("(min-width: 80rem)");
  let panel = null; // what is open, of panel.dataset.of
  const rowOf = (ident) => document.querySelector("#b-" + CSS.escape(ident) + ", #board .idents a[href='/base/" + CSS.escape(ident) + "']")?.closest("li");
  const linkOf = (ident) => rowOf(ident)?.querySelector("a");
  async function base(href) {
    const got = await fetch(href, { signal: AbortSignal.timeout(8000) }).then((r) => (r.ok ? r.text() : null), () => null);
    return got && new DOMParser().parseFromString(got, "text/html").querySelector("main");
  }
  function filled(from, href) {
    const head = document.createElement("div");
    head.className = "boardhead";
    const name = document.createElement("h2");
    name.textContent = from.querySelector("h1").textContent;
    const whole = Object.assign(document.createElement("a"), { className: "button", href, textContent: "Its page" });
    const shut = Object.assign(document.createElement("button"), { type: "button", textContent: "Close" });
    shut.addEventListener("click", close);
    head.append(name, whole, shut);
    panel.replaceChildren(head, ...from.querySelector(".beside").children);
    const day = panel.querySelector(".drawn");
    if (day) panel.querySelector(".one").after(day);
    panel.setAttribute("aria-label", name.textContent);
    all("[name=back]", panel).forEach((i) => { i.value = "/board"; });
    all("[id]", panel).forEach((e) => { e.removeAttribute("id"); });
  }
  async function opens(a) {
    const ident = decodeURIComponent(a.pathname.split("/").pop());
    if (panel?.dataset.of === ident) return close();
    const from = await base(a.href);
    if (!from) return away("Not shown: firn cannot be reached from here.");
    close();
    panel = document.createElement("section");
    panel.className = "panel";
    panel.tabIndex = -1;
    panel.dataset.of = ident;
    filled(from, a.href);
    repanel();
    if (!room.matches) rowOf(ident).scrollIntoView({ block: "start" });
    panel.focus({ preventScroll: true });
  }
  function close() {
    const was = panel;
    if (!was) return;
    const focused = was.contains(document.activeElement);
    unpanel();
    panel = null;
    document.body.classList.remove("opened");
    const a = linkOf(was.dataset.of);
    a?.setAttribute("aria-expanded", "false");
    if (focused) a?.focus();
  }
  // unpanel takes it out and gives what had the focus in it; repanel puts it
  // where it belongs.
  function unpanel() {
    if (!panel) return null;
    const focus = panel.contains(document.activeElement) ? document.activeElement : null;
    const around = panel.closest("li.opened");
    panel.remove();
    around?.remove();
    return focus;
  }
  function repanel(focus) {
    if (beside) all("#board .is, #board .idents a").forEach((a) => { a.setAttribute("aria-expanded", String(a === linkOf(panel?.dataset.of ?? ""))); });
    if (!panel) return;
    const row = rowOf(panel.dataset.of);
    document.body.classList.toggle("opened", room.matches);
    if (room.matches || !row) beside.append(panel);
    else {
      const li = document.createElement("li");
      li.className = "opened";
      li.append(panel);
      row.after(li);
    }
    focus?.focus({ preventScroll: true });
  }
  room.addEventListener("change", () => repanel(unpanel()));
  async function afresh() {
    const was = panel;
    const from = was && !was.contains(document.activeElement) && await base("/base/" + encodeURIComponent(was.dataset.of));
    if (from && panel === was && !was.contains(document.activeElement)) filled(from, "/base/" + encodeURIComponent(was.dataset.of));
  }

  // What is told while something is read out waits for its turn.
  const toSay = [];
  let saying = null;
  function says(text) {
    if (text && text !== toSay.at(-1)) toSay.push(text);
    if (saying || !toSay.length) return;
    news.textContent = toSay.shift();
    saying = setTimeout(() => { saying = null; says(); }, 1500);
  }
  function connect() {
    if (!body.dataset.live || stream || document.hidden || kept) return;
    stream = new EventSource(body.dataset.live + "&at=" + encodeURIComponent(at));
    stream.onopen = heard;
    stream.addEventListener("beat", heard);
    stream.onmessage = (e) => {
      heard();
      at = e.lastEventId;
      const update = JSON.parse(e.data);
      update.parts.forEach(put);
      if (update.parts.some((p) => p.id === "board")) afresh();
      if (update.say) says(update.say);
    };
    stream.onerror = () => {
      open = false;
      watch(new Date(Math.max(Date.now(), beat.getTime() + 1001)));
    };
  }
  function disconnect() {
    stream?.close();
    stream = null;
  }
  // Nobody stands at a wall to load it again: where nothing comes any more by
  // itself, as behind a proxy whose server was away, it is asked for.
  async function again() {
    if (document.hidden || !kept && stream?.readyState !== EventSource.CLOSED || !(await reachable())) return;
    if (kept && all("input, textarea").every((f) => f.value === f.defaultValue)) location.reload();
    else if (!kept && stream?.readyState === EventSource.CLOSED) {
      disconnect();
      connect();
    }
  }
  // A page that nobody sees keeps no connection: browsers have six of them.
  document.addEventListener("visibilitychange", () => (document.hidden ? disconnect() : (beat = new Date(), connect())));
  addEventListener("pagehide", disconnect);
  addEventListener("pageshow", (e) => (e.persisted ? location.reload() : connect()));
  document.addEventListener("focusout", () => setTimeout(() => {
    const parts = [...held.values()];
    held.clear();
    parts.forEach(put);
  }));

  // A link's secret goes from the address into its field, and waits for the button.
  const link = document.getElementById("link");
  if (link && location.hash.length > 1) {
    link.value = location.hash.slice(1);
    history.replaceState(null, "", location.pathname);
    document.querySelector("main button").focus();
  }

  // A form is sent once, shows that it is on its way, and leaves the page as it
  // is where nobody takes it.
  const reachable = () => fetch("/beat", { cache: "no-store", signal: AbortSignal.timeout(4000) }).then((r) => r.ok, () => false);
  let sending = null;
  document.addEventListener("submit", async (e) => {
    const form = e.target;
    if (form === sending) {
      setTimeout(() => all("button", form).forEach((b) => { b.disabled = true; }));
      return;
    }
    e.preventDefault();
    if (sending) return;
    sending = form;
    const by = e.submitter;
    by?.setAttribute("aria-busy", "true");
    if (await reachable()) {
      unsent.hidden = true;
      if (by?.isConnected !== false && form.isConnected) return form.requestSubmit(by);
    }
    sending = null;
    by?.removeAttribute("aria-busy");
    away("Not sent: firn cannot be reached from here. What stands here is as it was; send it again when there is a connection.");
  });
  function away(text) {
    unsent.textContent = text;
    unsent.hidden = false;
    unsent.focus();
  }

  document.addEventListener("click", (e) => {
    const a = e.target.closest(".tomore");
    if (a) {
      e.preventDefault();
      more(a);
    }
    const row = beside && !e.ctrlKey && !e.metaKey && !e.shiftKey && e.target.closest("#board .is, #board .idents a");
    if (row) {
      e.preventDefault();
      opens(row);
    }
    const chip = e.target.closest(".chip > summary")?.parentElement;
    if (chip && !chip.open) setTimeout(() => chip.querySelector("[name=text]").focus()); // when it has opened
    const copy = e.target.closest(".copy");
    if (copy && "print" in copy.dataset) print();
    else if (copy) navigator.clipboard.writeText(copy.dataset.copy.startsWith("/") ? location.origin + copy.dataset.copy : copy.dataset.copy).then(() => { copy.textContent = "Copied"; }, () => {});
  });
  document.addEventListener("keydown", (e) => {
    const typing = e.target.matches("input, textarea");
    if (e.key === "/" && !typing && !e.ctrlKey && !e.metaKey && !e.altKey) {
      const field = document.querySelector("#text, [data-find], main input:not([type=hidden])");
      if (!field) return;
      e.preventDefault();
      field.focus();
      field.select();
    }
    if (e.key === "Escape") close();
    if (e.key === " " && e.target.matches(".tomore")) {
      e.preventDefault();
      more(e.target);
    }
  });

  const station = document.getElementById("station");
  let asked = 0;
  station?.addEventListener("input", async () => {
    const mine = ++asked;
    const found = await fetch("/stations?typed=" + encodeURIComponent(station.value)).then((r) => (r.ok ? r.json() : null), () => null);
    if (found && mine === asked) station.list.replaceChildren(...found.map((c) => new Option(c.label, c.value)));
  });

  // A board on a wall turns its pages by itself.
  let leaf = 0;
  function turn(by) {
    if (!body.classList.contains("wall")) return;
    const own = ":scope > .bases > .base"; // what is folded is not on a wall
    const rows = all("#board .group").flatMap((g) => all(own, g));
    rows.forEach((e) => { e.hidden = false; });
    // Every group has its heading, which counts it, on every page.
    const high = rows.map((r) => r.getBoundingClientRect().height);
    rows.forEach((r) => { r.hidden = true; });
    let room = innerHeight - document.getElementById("board").getBoundingClientRect().bottom - 8;
    const whole = room;
    const pages = [[]];
    rows.forEach((r, i) => {
      if (high[i] > room && pages.at(-1).length) {
        pages.push([]);
        room = whole;
      }
      room -= high[i];
      pages.at(-1).push(r);
    });
    leaf = (leaf + by) % pages.length;
    pages[leaf].forEach((r) => { r.hidden = false; });
    const says = document.getElementById("leaf");
    if (says) says.textContent = pages.length > 1 ? "page " + (leaf + 1) + " of " + pages.length : "";
  }
  turn(0);
  (function next() {
    setTimeout(() => { turn(1); next(); }, Number(document.getElementById("leaf")?.dataset.turn ?? 12000));
  })();

  fold(document);
  born(document);
  repanel();
  setInterval(tick, 1000);
  setInterval(again, quiet / 3);
  tick();
  // The answer that the address names is read first, the line to fix typed in;
  // what is wrong comes before all.
  const named = document.querySelector("main [aria-invalid]") ?? (location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null);
  if (named && named !== main) {
    named.scrollIntoView({ behavior: "instant", block: named.matches("article, li, section") ? "start" : "nearest" });
    named.focus({ preventScroll: true });
  }
  if ("serviceWorker" in navigator && body.dataset.live) navigator.serviceWorker.register("/sw.js").catch(() => {});
})();
