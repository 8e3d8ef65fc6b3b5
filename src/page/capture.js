// Runs beside the sound card: hands on what the microphone gives, unchanged.
registerProcessor("capture", class extends AudioWorkletProcessor {
  process(inputs) {
    const samples = inputs[0]?.[0];
    if (samples) this.port.postMessage(samples.slice());
    return true;
  }
});
