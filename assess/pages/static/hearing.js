// Hearing a recording: a file that is chosen, or the microphone where the browser allows it. What
// the microphone gives is written as a WAV file here, so no codec is needed.

const SO_FAR_MS = 8000;
const FIRST_LISTEN_S = 6;
const TOO_LOUD = 0.98;
const LISTEN_LIMIT_MS = 300000;

/** How a recording is sent: its query says what it is about, and what is said of it. */
export function recordingRequest(path, own, sent, file) {
  const query = new URLSearchParams({ ...own, survey: sent.survey, name: sent.name });
  for (const [name, words] of Object.entries(sent.options)) query.set(`option.${name}`, words);
  const headers = { "Content-Type": "application/octet-stream" };
  return [`${path}?${query}`, { method: "POST", body: file, headers }, LISTEN_LIMIT_MS];
}

/** Samples from -1 to 1, in pieces, as a WAV file of one channel with 16 bits. */
export function wavFile(pieces, rate) {
  const count = pieces.reduce((sum, piece) => sum + piece.length, 0);
  const data = new DataView(new ArrayBuffer(44 + 2 * count));
  const word = (at, text) => [...text].forEach((letter, n) => data.setUint8(at + n, letter.charCodeAt(0)));
  word(0, "RIFF");
  data.setUint32(4, 36 + 2 * count, true);
  word(8, "WAVEfmt ");
  data.setUint32(16, 16, true);
  data.setUint16(20, 1, true);
  data.setUint16(22, 1, true);
  data.setUint32(24, rate, true);
  data.setUint32(28, 2 * rate, true);
  data.setUint16(32, 2, true);
  data.setUint16(34, 16, true);
  word(36, "data");
  data.setUint32(40, 2 * count, true);
  let at = 44;
  for (const piece of pieces) {
    for (const sample of piece) {
      data.setInt16(at, Math.round(32767 * Math.max(-1, Math.min(1, sample))), true);
      at += 2;
    }
  }
  return new Blob([data.buffer], { type: "audio/wav" });
}

/** Whether this browser gives the microphone to this page: on this machine, or over https. */
export const canRecord = () => Boolean(window.isSecureContext && navigator.mediaDevices?.getUserMedia && window.AudioWorkletNode);

/** The microphone as it is, without what is meant for speech. */
export async function openMicrophone(hear) {
  const stream = await navigator.mediaDevices.getUserMedia({
    audio: { echoCancellation: false, noiseSuppression: false, autoGainControl: false, channelCount: 1 },
  });
  const context = new AudioContext();
  const close = async () => {
    for (const track of stream.getTracks()) track.stop();
    await context.close();
  };
  try {
    await context.audioWorklet.addModule("/static/recorder.js");
    const node = new AudioWorkletNode(context, "recorder", { numberOfOutputs: 1 });
    node.port.onmessage = (message) => hear(message.data);
    context.createMediaStreamSource(stream).connect(node);
    node.connect(context.destination); // it gives no sound, but without it nothing runs
  } catch (error) {
    await close();
    throw error;
  }
  return { rate: context.sampleRate, close };
}

/**
 * The part of a grid that listens.
 *
 * page: h, button, add (into the outbox), call, device, randomId, options (what is said of the
 * recording), preview (shows rows so far), waiting and turned (entries of this grid), drop, result.
 */
export function hearingPart(page, grid) {
  const { h, button } = page;
  const status = h("p", { role: "status" });
  const said = h("div", {});
  const show = () => {
    const result = page.result();
    const turned = page.turned();
    said.replaceChildren(
      ...turned.map((entry) => h("div", { class: "fault" }, h("p", {}, entry.message), button("Drop this recording", () => page.drop(entry)))),
      ...(result ? [h("ul", {}, result.says.map((line) => h("li", {}, line)))] : []));
    if (!taking) status.textContent = page.waiting() ? "Listening. This takes a few seconds." : result ? `Heard: ${result.rows} rows entered. Tap a cell to correct it.` : "";
  };
  const sentOf = (name, options) => ({ survey: grid.id, name, options });
  const add = async (file, name, options) => {
    await page.add(sentOf(name, options), file);
    show();
  };
  const input = h("input", { type: "file", id: "recording", accept: "audio/*,.wav,.m4a", onchange: async () => {
    for (const file of input.files) await add(file, file.name, page.options());
    input.value = "";
  } });
  let taking = null;
  const record = button("Record with this device", () => (taking ? finish() : begin()));

  async function begin() {
    const take = { pieces: [], loud: false, microphone: null, busy: false, options: page.options() };
    taking = take;
    record.textContent = "Stop";
    status.textContent = "Waiting for the microphone";
    try {
      take.microphone = await openMicrophone((piece) => {
        take.pieces.push(piece);
        take.loud ||= piece.some((sample) => Math.abs(sample) > TOO_LOUD);
      });
    } catch (error) {
      taking = null;
      record.textContent = "Record with this device";
      status.textContent = `The microphone cannot be used (${error.name}). Record with the telephone's own program and choose the file.`;
      return;
    }
    take.timer = setInterval(() => {
      const loud = take.loud ? " Too loud: move it further away and begin again." : "";
      status.textContent = `Recording, ${Math.floor(lengthOf(take))} s.${loud}`;
    }, 500);
    take.listening = setInterval(() => listenSoFar(take), SO_FAR_MS);
  }

  const lengthOf = (take) => take.pieces.reduce((sum, piece) => sum + piece.length, 0) / take.microphone.rate;

  /** What is heard so far, shown on the grid while the recording goes on. */
  async function listenSoFar(take) {
    if (take.busy || lengthOf(take) < FIRST_LISTEN_S) return;
    take.busy = true;
    const own = { id: page.randomId(), device: page.device };
    const file = wavFile(take.pieces, take.microphone.rate);
    const answer = await page.call(...recordingRequest("/hear_so_far", own, sentOf("so_far.wav", take.options), file));
    take.busy = false;
    if (answer.ok && taking === take) page.preview(answer.body.rows);
  }

  /** Stop, and put what was recorded into the outbox. */
  async function finish() {
    const take = taking;
    if (!take?.microphone) return;
    taking = null;
    record.textContent = "Record with this device";
    clearInterval(take.timer);
    clearInterval(take.listening);
    await take.microphone.close();
    page.preview([]);
    const at = new Date().toISOString().slice(0, 16).replace("T", "_").replace(":", "");
    await add(wavFile(take.pieces, take.microphone.rate), `visit_${at}.wav`, take.options);
  }

  show();
  const part = h("details", { open: Boolean(page.result() || page.waiting() || page.turned().length) },
    h("summary", {}, "Hear a recording"), h("ul", {}, grid.hears.how.map((line) => h("li", {}, line))),
    page.first, h("label", { for: "recording", class: "label" }, "A recording of this device, or a file"), input,
    canRecord() ? h("div", { class: "row" }, record) : null, status, said);
  return { part, show, leave: finish };
}
