// Hands the samples of the microphone to the page as they come.
class Recorder extends AudioWorkletProcessor {
  process(inputs) {
    if (inputs[0].length) this.port.postMessage(inputs[0][0].slice());
    return true;
  }
}

registerProcessor("recorder", Recorder);
