// Hands the microphone's samples on in blocks; counts what is missing between them.
const BLOCK = 1024;

class Samples extends AudioWorkletProcessor {
  constructor(options) {
    super();
    this.port.onmessage = ({ data }) => (this.to = data.to);
    this.block = new Float32Array(BLOCK);
    this.filled = 0;
    this.next = null;
    this.lost = 0;
  }

  process([[channel]]) {
    if (this.next !== null && currentFrame > this.next) this.lost += currentFrame - this.next;
    this.next = currentFrame + 128;
    if (!channel || !this.to) return true;
    for (let taken = 0; taken < channel.length; ) {
      const step = Math.min(BLOCK - this.filled, channel.length - taken);
      this.block.set(channel.subarray(taken, taken + step), this.filled);
      taken += step;
      this.filled += step;
      if (this.filled === BLOCK) this.send();
    }
    return true;
  }

  send() {
    if (this.first === undefined) {
      this.first = currentTime - (BLOCK - 128) / sampleRate;
      this.port.postMessage({ first: this.first });
    }
    this.to.postMessage({ samples: this.block, lost: this.lost, at: Date.now() });
    this.lost = 0;
    this.filled = 0;
  }
}

registerProcessor("samples", Samples);
