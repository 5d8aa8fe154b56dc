/* Runs before the app. Until `time.tell()` the page is as it is. From then on no time passes by itself: performance.now,
   the timers and the stamps of taps go by a clock that the test moves, and `time.settled()` resolves when nothing that
   was begun is still under way, however slow the machine is. The wall clock (Date) runs on: no guard reads it. */
(() => {
  const real = {
    now: performance.now.bind(performance),
    set: setTimeout.bind(window),
    clear: clearTimeout.bind(window),
  };
  let told = null; // ms, null while time passes by itself
  let last = 0;
  const timers = new Map();
  const now = () => told ?? real.now();

  performance.now = now;
  window.setTimeout = (run, ms = 0, ...given) => {
    last += 1;
    const id = last;
    const timer = {
      due: now() + Math.max(0, ms),
      run: () => {
        timers.delete(id);
        run(...given);
      },
    };
    timers.set(id, timer);
    if (told === null) timer.real = real.set(timer.run, ms);
    return id;
  };
  const every = setInterval.bind(window);
  window.setInterval = (run, ms) =>
    every(() => {
      if (told === null) run();
    }, ms);
  window.clearTimeout = (id) => {
    if (timers.has(id)) real.clear(timers.get(id).real);
    timers.delete(id);
  };

  // ---- what is under way: transactions and openings of the disk, locks, calls, digests, frames, moves in the history
  let under = 0;
  const waiting = []; // for the last of it to end
  const begun = () => {
    under += 1;
  };
  const done = () => {
    under -= 1;
    if (!under) waiting.splice(0).forEach((each) => each());
  };
  const wrap = (owner, name, follow) => {
    const inner = owner[name];
    owner[name] = function (...given) {
      const answer = inner.apply(this, given);
      begun();
      follow(answer);
      return answer;
    };
  };
  const until =
    (...events) =>
    (target) => {
      let open = true;
      for (const event of events)
        target.addEventListener(event, () => {
          if (open) done();
          open = false;
        });
    };
  const promised = (promise) => {
    promise.then(done, done);
  };
  wrap(IDBDatabase.prototype, "transaction", until("complete", "abort"));
  wrap(IDBFactory.prototype, "open", until("success", "error"));
  wrap(LockManager.prototype, "request", promised);
  for (const name of ["digest", "importKey", "deriveBits"]) wrap(SubtleCrypto.prototype, name, promised);
  wrap(Blob.prototype, "arrayBuffer", promised);
  wrap(Response.prototype, "json", promised);
  wrap(window, "createImageBitmap", promised);
  const heeding = []; // for a message of another tab to reach the app
  BroadcastChannel.prototype.addEventListener = function (type, run) {
    EventTarget.prototype.addEventListener.call(this, type, (event) => {
      run(event);
      heeding.splice(0).forEach((each) => each());
    });
  };
  const frame = window.requestAnimationFrame.bind(window);
  window.requestAnimationFrame = (run) => {
    if (told === null) return frame(run);
    begun();
    return frame((at) => {
      done();
      run(at);
    });
  };
  const call = window.fetch.bind(window);
  window.fetch = (...given) => {
    const answer = Promise.resolve(window.time.answer?.(...given) ?? call(...given));
    begun();
    promised(answer);
    return answer;
  };
  const back = history.back.bind(history);
  history.back = () => {
    begun();
    addEventListener("popstate", done, { once: true });
    back();
  };
  let heard = location.hash;
  addEventListener("hashchange", () => {
    heard = location.hash;
  });

  const line = new MessageChannel();
  const turns = [];
  line.port1.onmessage = () => turns.shift()();
  const turn = () =>
    new Promise((resolve) => {
      turns.push(resolve);
      line.port2.postMessage(0);
    });

  const calm = async () => {
    for (let turns = 0; turns < 3; turns += 1) {
      const busy = under || heard !== location.hash;
      if (under)
        await new Promise((resolve) => {
          waiting.push(resolve);
        });
      else await turn();
      if (busy) turns = -1;
    }
  };

  window.time = {
    now,
    heeded: () =>
      new Promise((resolve) => {
        heeding.push(resolve);
      }),
    /** Calls are answered by this, where it gives an answer. @type {((url: string, how: any) => any) | null} */
    answer: null,
    tell() {
      told = real.now();
      for (const timer of timers.values()) real.clear(timer.real);
    },
    async settled() {
      let alarm;
      const given_up = new Promise((_, reject) => {
        alarm = real.set(
          () => reject(new Error(`never settled: ${under} under way, at ${location.hash}, heard ${heard}`)),
          60_000,
        );
      });
      try {
        await Promise.race([given_up, calm()]);
      } finally {
        real.clear(alarm);
      }
    },
    /** Let time pass; what is due meanwhile is done, each thing settled before the next. */
    async pass(ms, settling = true) {
      const end = told + ms;
      for (;;) {
        const due = [...timers.values()].filter((timer) => timer.due <= end).sort((a, b) => a.due - b.due)[0];
        if (!due) break;
        told = Math.max(told, due.due);
        due.run();
        if (settling) await this.settled();
      }
      told = end;
    },
    /** Time passes and what was to be done in it is forgotten: another story begins. */
    leap(ms) {
      timers.clear();
      told += ms;
    },
  };
})();
