// Around the terminal: its size, its socket's health, and coming back after sleep or a lost network.
"use strict";
(() => {
  const COLUMNS = 80; // what the screen needs at least
  const LARGEST_PX = 16, SMALLEST_PX = 7, CELL = 0.6; // a cell is so wide, in heights of the font
  const SILENT_MS = 15000; // the server says something every 5 s
  const AGAIN_MS = 2000;
  const terminal = document.getElementById("terminal");
  const note = document.getElementById("note");
  let heard = Date.now();
  let lost = false;

  class Heard extends WebSocket {
    constructor(...where) {
      super(...where);
      heard = Date.now();
      this.addEventListener("message", () => { heard = Date.now(); });
    }
  }
  window.WebSocket = Heard;

  function fontSize() {
    const fitting = Math.floor(window.innerWidth / COLUMNS / CELL);
    return Math.max(SMALLEST_PX, Math.min(LARGEST_PX, fitting));
  }

  async function comeBack() {
    if (lost) return;
    lost = true;
    document.body.classList.add("-closed");
    note.textContent = "The connection is gone. Trying again ...";
    for (;;) {
      try {
        const answer = await fetch("/ready", { cache: "no-store" });
        if (answer.ok) return window.location.reload();
        note.textContent = await answer.text();
      } catch {
        note.textContent = "The mound's computer does not answer. Trying again ...";
      }
      await new Promise((done) => setTimeout(done, AGAIN_MS));
    }
  }

  function look() {
    const shut = document.body.classList.contains("-closed");
    const silent = Date.now() - heard > SILENT_MS;
    if (!document.hidden && (shut || silent)) comeBack();
  }

  async function open() {
    const size = fontSize();
    terminal.dataset.fontSize = size;
    const scheme = window.location.protocol === "https:" ? "wss:" : "ws:";
    terminal.dataset.sessionWebsocketUrl = `${scheme}//${window.location.host}/ws`;
    await document.fonts.load(`${size}px "Roboto Mono"`).catch(() => undefined);
    if (document.readyState !== "complete") {
      await new Promise((done) => window.addEventListener("load", done, { once: true }));
    }
    const script = document.createElement("script");
    script.src = "/terminal.js";
    script.onload = () => {
      heard = Date.now();
      window.onload(); // the terminal's script begins there
      // A tap must not bring up the keyboard: there is nothing to type.
      const input = document.querySelector(".xterm-helper-textarea");
      input.setAttribute("inputmode", "none");
      input.focus();
      new MutationObserver(look).observe(document.body, { attributeFilter: ["class"] });
      setInterval(look, AGAIN_MS);
      document.addEventListener("visibilitychange", look);
      document.addEventListener("resume", look);
      window.addEventListener("online", look);
      window.addEventListener("resize", () => {
        if (fontSize() !== size) window.location.reload(); // turned round: another size of letters
      });
    };
    script.onerror = comeBack;
    document.head.append(script);
  }

  open();
})();
