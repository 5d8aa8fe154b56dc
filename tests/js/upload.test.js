import assert from "node:assert/strict";
import test from "node:test";

import { upload } from "../../pwa/lib/api.js";

const PIECE = 256_000;

/** The server as a phone meets it: what it holds of one photo, and what it says of the whole. */
class Server {
  /** @param {Uint8Array} held  @param {number} whole */
  constructor(held, whole) {
    Object.assign(this, { held: [...held], whole, asked: [] });
  }

  /** @param {string} path  @param {any} asked */
  fetch = async (path, asked) => {
    this.asked.push(`${asked.method} ${asked.headers["Upload-Offset"] ?? ""}`.trim());
    if (asked.method === "HEAD")
      return new Response(null, {
        status: this.held.length ? 200 : 404,
        headers: { "Upload-Offset": String(this.held.length) },
      });
    const offset = Number(asked.headers["Upload-Offset"]);
    if (offset !== this.held.length)
      return new Response("{}", { status: 409, headers: { "Upload-Offset": String(this.held.length) } });
    this.held = this.held.concat([...new Uint8Array(asked.body)]);
    if (this.held.length === this.whole && this.held.some((one) => one !== 7)) {
      this.held = [];
      const error = { code: "photo_broken", message: "The bytes do not match." };
      return new Response(JSON.stringify({ error }), { status: 422 });
    }
    return new Response(null, { status: 204, headers: { "Upload-Offset": String(this.held.length) } });
  };
}

/** @param {Server} server  @param {Uint8Array} bytes */
function sent(server, bytes) {
  globalThis.fetch = server.fetch;
  return upload("t", { sha256: "ab", bytes: /** @type {ArrayBuffer} */ (bytes.buffer) });
}

const PHOTO = new Uint8Array(PIECE + 1000).fill(7);

test("a photo goes on where it left off", async () => {
  const server = new Server(PHOTO.slice(0, PIECE), PHOTO.length);
  await sent(server, PHOTO);
  assert.deepEqual(server.asked, ["HEAD", `PATCH ${PIECE}`]);
});

test("a photo whose first pieces the server let go of begins anew", async () => {
  const server = new Server(PHOTO.slice(0, PIECE), PHOTO.length);
  const { fetch } = server;
  server.fetch = async (path, asked) => {
    if (asked.method === "PATCH" && server.asked.length === 1) server.held = []; // between the asking and the piece
    return fetch(path, asked);
  };
  await sent(server, PHOTO);
  assert.deepEqual(server.asked, ["HEAD", `PATCH ${PIECE}`, "PATCH 0", `PATCH ${PIECE}`]);
  assert.equal(server.held.length, PHOTO.length);
});

test("where other bytes lay at the server all of it is sent, once", async () => {
  const server = new Server(new Uint8Array(1000), PHOTO.length); // as a power cut leaves a file: its length, and zeros
  await sent(server, PHOTO);
  assert.deepEqual(server.asked, ["HEAD", "PATCH 1000", "PATCH 0", `PATCH ${PIECE}`]);
  assert.equal(server.held.length, PHOTO.length);
});

test("a photo that is broken from its first byte on is told and not sent again", async () => {
  const server = new Server(new Uint8Array(0), PHOTO.length);
  await assert.rejects(sent(server, new Uint8Array(PHOTO.length)), { code: "photo_broken", status: 422 });
  assert.equal(server.asked.filter((one) => one === "PATCH 0").length, 1);
});
