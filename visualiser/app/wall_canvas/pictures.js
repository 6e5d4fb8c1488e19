// Pictures by their addresses. A request that is refused, or is not answered for some time, is
// followed by others beside it: on a slow line the first may still be the one that arrives. When none
// does, the page is asked to put the picture up anew, or to send it inside its own message.

const PATIENCE_MS = [3000, 5000, 8000, 12000], AFTER_REFUSAL_MS = 200;
const requests = new WeakMap();

export function showPicture(image, address, view) {
  const last = requests.get(image);
  if (last?.address === address && !last.lost) return;
  last?.end();
  requests.set(image, new PictureRequest(image, address, view, last?.lost ? last.rounds : 0));
}

class PictureRequest {
  constructor(image, address, view, rounds) {
    this.image = image;
    this.address = address;
    this.view = view;
    this.rounds = rounds + 1;
    this.tries = 0;
    this.refused = false;
    this.inside = address.startsWith("data:");
    image.dataset.address = address;
    view.waiting.begin(this, "Fetching the picture …");
    this.ask();
  }

  ask() {
    const fetched = this.tries ? new Image() : this.image;
    const anew = !this.inside && (this.tries || this.rounds > 1);
    fetched.onload = () => this.arrived(fetched);
    fetched.onerror = () => {
      this.refused = true;
      this.goOnIn(AFTER_REFUSAL_MS * this.tries);
    };
    this.goOnIn(PATIENCE_MS[this.tries]);
    this.tries += 1;
    fetched.src = anew ? `${this.address}?again=${Date.now()}` : this.address;
  }

  goOnIn(ms) {
    if (this.over) return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.goOn(), ms);
  }

  goOn() {
    if (!this.image.isConnected) {
      this.end(); // its page or its piece is gone
    } else if (this.tries < PATIENCE_MS.length) {
      this.view.waiting.begin(this, "The picture has not arrived; asking again …");
      this.ask();
    } else {
      this.giveUp();
    }
  }

  // What was refused may only have been forgotten by the server; what is not answered comes better
  // another way.
  giveUp() {
    this.over = this.lost = true;
    const otherwise = () => this.view.lost(!this.refused || this.rounds > 1);
    this.view.waiting.begin(this, "The picture has not arrived.", { again: otherwise });
    if (!this.inside) otherwise();
  }

  arrived(fetched) {
    if (this.over) return;
    this.end();
    if (fetched !== this.image) this.image.src = fetched.src;
  }

  // Listen to no answer any more.
  end() {
    this.over = true;
    clearTimeout(this.timer);
    this.view.waiting.end(this);
  }
}
