// What the page does beyond its forms: it keeps itself up to date, and offers
// stations while somebody types. Without it everything else works.
"use strict";
(() => {
  const body = document.body;
  const news = document.getElementById("news");
  const line = document.getElementById("line");
  const held = new Map(); // parts that wait until nobody is typing in the old ones
  let at = body.dataset.at;
  let stream = null;

  const clock = () => new Date().toISOString().slice(11, 16) + "Z";
  const tell = (text, bad) => {
    if (!line) return;
    line.textContent = text;
    line.classList.toggle("bad", bad);
  };

  // Parts that are a tap away come unfolded, for whoever has no script.
  const wide = matchMedia("(min-width: 64rem)");
  function fold(within) {
    within.querySelectorAll("details.fold").forEach((d) => { d.open = d.classList.contains("side") && wide.matches; });
  }
  let shut = []; // by hand, while it is printed
  addEventListener("beforeprint", () => {
    shut = [...document.querySelectorAll("details.fold:not([open])")];
    shut.forEach((d) => { d.open = true; });
  });
  addEventListener("afterprint", () => shut.forEach((d) => { d.open = false; }));
  wide.addEventListener("change", () => document.querySelectorAll("details.side").forEach((d) => { d.open = wide.matches; }));

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
    if (!old) {
      fold(fresh);
      into.querySelector(".first")?.remove();
      into.prepend(fresh);
      return;
    }
    // What was unfolded stays so, and the focus where it was.
    fold(fresh);
    const name = (d) => d.querySelector("summary").textContent;
    const open = new Map([...old.querySelectorAll("details")].map((d) => [name(d), d.open]));
    fresh.querySelectorAll("details").forEach((d) => { d.open = open.get(name(d)) ?? d.open; });
    const way = "a, button, summary";
    const place = old.contains(focus) ? [...old.querySelectorAll(way)].indexOf(focus) : -1;
    const whole = focus === old;
    old.replaceWith(fresh);
    if (whole) fresh.focus({ preventScroll: true });
    else if (place >= 0) (fresh.querySelectorAll(way)[place] ?? fresh).focus({ preventScroll: true });
  }

  function connect() {
    if (!body.dataset.live || stream || document.hidden) return;
    stream = new EventSource(body.dataset.live + "&at=" + encodeURIComponent(at));
    stream.onopen = () => tell("Live.", false);
    stream.onmessage = (e) => {
      at = e.lastEventId;
      const update = JSON.parse(e.data);
      update.parts.forEach(put);
      if (update.say) news.textContent = update.say;
    };
    stream.onerror = () => {
      const gone = stream.readyState === EventSource.CLOSED;
      tell(gone ? "Not live since " + clock() + ": reload the page." : "Not live since " + clock() + ": what stands here may be old. Trying again.", true);
    };
  }
  function disconnect() {
    stream?.close();
    stream = null;
  }
  // A page that nobody sees keeps no connection: browsers have six of them.
  document.addEventListener("visibilitychange", () => (document.hidden ? disconnect() : connect()));
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

  // A form is sent once, and shows that it is on its way.
  document.addEventListener("submit", (e) => setTimeout(() => {
    e.submitter?.setAttribute("aria-busy", "true");
    e.target.querySelectorAll("button").forEach((b) => { b.disabled = true; });
  }));

  const station = document.getElementById("station");
  let asked = 0;
  station?.addEventListener("input", async () => {
    const mine = ++asked;
    const found = await fetch("/stations?typed=" + encodeURIComponent(station.value)).then((r) => (r.ok ? r.json() : null), () => null);
    if (found && mine === asked) station.list.replaceChildren(...found.map((c) => new Option(c.label, c.value)));
  });

  fold(document);
  // The answer that the address names is read first, the line to fix typed in.
  if (location.hash.length > 1) {
    const named = document.getElementById(location.hash.slice(1));
    named?.scrollIntoView({ behavior: "instant" });
    named?.focus({ preventScroll: true });
  }
})();
