"use strict";
// A camera that reads tags. Without it codes are typed: every page that scans has a field for them.
(() => {
  const ADDRESS = /^\s*(?:https?:\/\/)?([^/\s?#]+)\/t\/([^/\s?#]+)\/?(?:[?#]\S*)?\s*$/i;
  const AGAIN_MS = 2500; // the same tag stays before the camera for a while
  const WHY = {
    NotAllowedError: "The camera was refused. Allow it in the browser’s settings for this page, or type the code.",
    NotFoundError: "No camera was found. Type the code, or choose a picture.",
    NotReadableError: "The camera is in use by something else. Close that, or type the code.",
    OverconstrainedError: "This camera cannot be used here. Type the code, or choose a picture.",
  };
  const NO_CAMERA = "This browser gives no camera to this page, as a rule because its address does not begin with https. Use the phone’s own camera, or type the code.";
  const kept = (name, value) => { try { return value === undefined ? localStorage.getItem(name) : localStorage.setItem(name, value); } catch { return null; } };

  const split = (text) => {
    const found = ADDRESS.exec(text);
    return found ? { host: found[1].toUpperCase(), code: found[2] } : { host: "", code: text };
  };
  const looksLikeCode = (text) => /^[0-9A-Z]{8}$/i.test(text.replace(/[\s-]/g, ""));

  const ANSWER_MS = 20000; // the decoder comes over a slow line once
  let worker = null, asked = 0;
  const waiting = new Map();
  const giveUp = (why) => {
    worker?.terminate();
    worker = null; // the next picture begins anew
    for (const one of waiting.values()) one.reject(new Error(why));
    waiting.clear();
  };
  const decode = (image, most = 1) => new Promise((resolve, reject) => {
    if (!worker) {
      worker = new Worker(document.querySelector("[data-scanner]").dataset.worker);
      worker.onmessage = ({ data }) => {
        const one = waiting.get(data.id);
        waiting.delete(data.id);
        clearTimeout(one?.late);
        if (data.failed) one?.reject(new Error(data.failed)); else one?.resolve(data.found);
      };
      worker.onerror = (problem) => { problem.preventDefault(); giveUp("its decoder did not load"); };
    }
    const id = ++asked, late = setTimeout(() => giveUp("its decoder does not answer"), ANSWER_MS);
    waiting.set(id, { resolve, reject, late });
    worker.postMessage({ id, image, most }, image ? [image instanceof ImageData ? image.data.buffer : image] : []);
  });

  let sounding = null;
  const tell = (good) => {
    if (navigator.vibrate) navigator.vibrate(good ? 60 : [60, 60, 60]);
    if (kept("scan sound") === "off") return;
    try {
      sounding ??= new AudioContext();
      const tone = sounding.createOscillator(), loud = sounding.createGain(), now = sounding.currentTime;
      tone.frequency.value = good ? 880 : 220;
      loud.gain.setValueAtTime(0.15, now);
      loud.gain.exponentialRampToValueAtTime(0.001, now + 0.18);
      tone.connect(loud).connect(sounding.destination);
      tone.start(now);
      tone.stop(now + 0.2);
    } catch { /* no sound here */ }
  };

  class Scanner {
    constructor(root) {
      this.root = root;
      this.mode = root.dataset.mode;
      // Where the page knows no addresses of the club, the service says whose a tag is.
      this.hosts = "hosts" in root.dataset ? [location.host.toUpperCase(), ...root.dataset.hosts.split(" ").filter(Boolean)] : null;
      this.video = root.querySelector("video");
      this.said = root.querySelector("[data-said]");
      this.part = (name) => root.querySelector(`[data-part="${name}"]`);
      this.field = root.dataset.field ? document.getElementById(root.dataset.field) : null;
      this.last = "";
      this.lastAt = 0;
      root.hidden = false;
      this.part("open").addEventListener("click", () => this.open());
      this.part("close").addEventListener("click", () => this.close("The camera is off."));
      this.part("light").addEventListener("click", () => this.light());
      const sound = this.part("sound");
      const shown = () => { sound.setAttribute("aria-pressed", String(kept("scan sound") !== "off")); };
      sound.addEventListener("click", () => { kept("scan sound", kept("scan sound") === "off" ? "on" : "off"); shown(); });
      shown();
      this.part("picture")?.addEventListener("change", (event) => this.picture(event.target));
      addEventListener("pagehide", () => this.close(""));
      document.addEventListener("visibilitychange", () => { if (document.hidden) this.close("The camera was put off with the page."); });
      if (root.dataset.open === "now") this.open();
    }

    say(words, good = true) {
      this.said.textContent = words;
      this.said.classList.toggle("stopped", !good);
    }

    async open() {
      if (this.stream || this.opening) return;
      if (!navigator.mediaDevices?.getUserMedia) { this.say(NO_CAMERA, false); return; }
      this.opening = true;
      this.say("Opening the camera …");
      decode(null).catch((problem) => this.unread(problem));
      try {
        this.stream = await navigator.mediaDevices.getUserMedia({
          audio: false, video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
        });
      } catch (problem) {
        this.say(WHY[problem.name] || `The camera did not open (${problem.name}). Type the code, or choose a picture.`, false);
        return;
      } finally {
        this.opening = false;
      }
      const [track] = this.stream.getVideoTracks();
      track.addEventListener("ended", () => this.close("The camera stopped. Open it again, or type the code."));
      this.video.srcObject = this.stream;
      this.root.classList.add("is-open");
      this.part("open").hidden = true;
      this.part("close").hidden = false;
      this.part("light").hidden = !track.getCapabilities?.().torch;
      this.say("Hold the tag’s square pattern before the camera.");
      await this.video.play().catch(() => {});
      this.watch();
    }

    close(words) {
      this.stream?.getTracks().forEach((track) => track.stop());
      if (!this.stream) return;
      this.stream = this.video.srcObject = null;
      this.root.classList.remove("is-open");
      this.part("open").hidden = false;
      this.part("close").hidden = this.part("light").hidden = true;
      if (words) this.say(words);
    }

    async light() {
      const button = this.part("light"), on = button.getAttribute("aria-pressed") !== "true";
      try {
        await this.stream.getVideoTracks()[0].applyConstraints({ advanced: [{ torch: on }] });
        button.setAttribute("aria-pressed", String(on));
      } catch { this.say("The light cannot be put on here.", false); }
    }

    watch() {
      const frame = async () => {
        if (!this.stream) return;
        let found = [];
        try {
          if (this.video.videoWidth && !this.busy) found = await decode(await createImageBitmap(this.video));
        } catch (problem) {
          this.unread(problem);
          return;
        }
        if (found.length) await this.seen(found[0].text);
        if (!this.stream) return;
        if (this.video.requestVideoFrameCallback) this.video.requestVideoFrameCallback(frame); else setTimeout(frame, 120);
      };
      frame();
    }

    unread(problem) {
      this.close("");
      this.say(`Pictures cannot be read here: ${problem.message}. Use the phone’s own camera, or type the code.`, false);
    }

    async picture(input) {
      const [file] = input.files;
      if (!file) return;
      this.say("Reading the picture …");
      let shown, found;
      try {
        shown = await createImageBitmap(file);
      } catch {
        this.say("This picture cannot be read. Choose a JPEG, PNG or WebP picture.", false);
        return;
      } finally {
        input.value = "";
      }
      try {
        found = await decode(shown, 60);
      } catch (problem) {
        this.unread(problem);
        return;
      }
      if (!found.length) { this.say("No tag was found in this picture. Go closer, let the light fall from the side, or type the code.", false); tell(false); return; }
      if (this.mode === "open" && found.length > 1) { this.many(found); return; }
      for (const one of found) await this.seen(one.text, true);
    }

    many(found) {
      const list = this.part("many");
      list.replaceChildren(...found.map(({ text }) => {
        const { code } = split(text), item = document.createElement("li"), link = document.createElement("a");
        link.href = `/T/${encodeURIComponent(code.toUpperCase())}`;
        link.className = "code";
        link.textContent = code.toUpperCase();
        item.append(link);
        return item;
      }));
      list.hidden = false;
      this.say(`${found.length} tags are in this picture. Which one?`);
    }

    async seen(text, fromPicture = false) {
      const now = Date.now();
      if (!fromPicture && text === this.last && now - this.lastAt < AGAIN_MS) { this.lastAt = now; return; }
      this.last = text;
      this.lastAt = now;
      const { host, code } = split(text);
      if (host && this.hosts && !this.hosts.includes(host)) { tell(false); this.say(`This is a code of ${host.toLowerCase()}, not of this club. It was not opened.`, false); return; }
      if (!host && !looksLikeCode(code)) { tell(false); this.say("This code is not a tag of this club.", false); return; }
      tell(true);
      const plain = code.replace(/[\s-]/g, "").toUpperCase(), shown = `${plain.slice(0, 4)} ${plain.slice(4)}`;
      if (this.mode === "open" || this.mode === "go") {
        this.say(`Read: ${shown}. Opening it …`);
        this.close("");
        location.assign(`${this.mode === "go" ? this.root.dataset.to : "/T/"}${encodeURIComponent(plain)}`);
      } else if (this.mode === "line") {
        const lines = this.field.value.split(/[\n,]+/).map((line) => line.trim()).filter(Boolean);
        const there = lines.some((line) => line.replace(/[\s-]/g, "").toUpperCase() === plain);
        if (!there) this.field.value = [...lines, shown].join("\n");
        this.field.dispatchEvent(new Event("input", { bubbles: true }));
        this.say(there ? `${shown} is in the list already.` : `Read: ${shown}. ${lines.length + 1} in the list.`);
      } else if (this.mode === "count") {
        await this.count(shown);
      } else {
        // What is not of this club keeps its address, so that the refusal can name it.
        this.field.value = host && host !== location.host.toUpperCase() ? text : shown;
        this.field.dispatchEvent(new Event("input", { bubbles: true }));
        this.close("");
        this.say(`Read: ${shown}.`);
        if ("submit" in this.root.dataset) this.field.form.requestSubmit(); else this.field.focus();
      }
    }

    async count(shown) {
      this.busy = true;
      try {
        const answer = await fetch(this.root.dataset.to, {
          method: "POST", body: JSON.stringify({ code: shown }),
          headers: { "Content-Type": "application/json", Accept: "application/json", "Idempotency-Key": this.key(shown), "X-CSRF-Token": this.root.dataset.csrf },
        });
        const told = await answer.json();
        if (!answer.ok) { tell(false); this.say(`${shown}: ${told.detail || told.title}`, false); return; }
        const here = told.finding === "present";
        if (!here) tell(false);
        this.say(`${shown}: ${here ? "there, as it should be" : `not expected here${told.lies ? `; the record has it in ${told.lies}` : ""}`}.${told.again ? " It was scanned before." : ""}`, here);
        if (!told.again) this.part("tally").textContent = String(Number(this.part("tally").textContent) + 1);
        this.part("counted").hidden = false;
      } catch {
        tell(false);
        this.last = "";
        this.say(`${shown} was not counted: nothing answers. Hold it before the camera again.`, false);
      } finally {
        this.busy = false;
      }
    }

    key(shown) {
      return self.crypto?.randomUUID?.() ?? `${shown}-${Date.now()}-${Math.random().toString(36).slice(2)}`;
    }
  }
  for (const root of document.querySelectorAll("[data-scanner]")) new Scanner(root);
})();
