// What tablets send, timed from the first byte to the last receipt: entries in their order, then photos.
// node drain_client.mjs ADDRESS JOBS: jobs {blob, connections, raw, tablets: [{headers, batches: [{path, body}], photos: [{sha256, at, length}]}]}
// To the product over HTTP with connections that stay open; to the raw reference in frames. Everything is read before
// the clock starts. Prints {seconds, entries_ms, photos_ms, batches, photos}.
import { openSync, readFileSync, readSync } from "node:fs";
import http from "node:http";
import net from "node:net";

const [, , address, file] = process.argv;
const jobs = JSON.parse(readFileSync(file, "utf8"));
const blob = openSync(jobs.blob, "r");
for (const tablet of jobs.tablets) {
  for (const batch of tablet.batches) batch.bytes = Buffer.from(batch.body);
  for (const photo of tablet.photos) {
    photo.bytes = Buffer.alloc(photo.length);
    readSync(blob, photo.bytes, 0, photo.length, photo.at);
  }
}

function overHttp(tablet) {
  const agent = new http.Agent({ keepAlive: true, maxSockets: jobs.connections });
  const send = (method, path, bytes, headers) =>
    new Promise((done, failed) => {
      const options = { method, agent, headers: { ...tablet.headers, ...headers, "content-length": bytes.length } };
      const request = http.request(address + path, options, (answer) => {
        const pieces = [];
        answer.on("data", (piece) => pieces.push(piece));
        answer.on("end", () => done({ status: answer.statusCode, text: Buffer.concat(pieces).toString() }));
      });
      request.on("error", failed);
      request.end(bytes);
    });
  return {
    async batch({ path, bytes }) {
      const { status, text } = await send("POST", path, bytes, { "content-type": "application/x-ndjson" });
      if (status !== 200) throw new Error(`${status} ${text.slice(0, 300)}`);
      for (const receipt of JSON.parse(text).receipts)
        if (receipt.verdict !== "counted" || receipt.state !== "stored") throw new Error(JSON.stringify(receipt));
    },
    async photo({ sha256, bytes }) {
      const { status, text } = await send("PUT", `/photos/${sha256}`, bytes, { "content-type": "application/octet-stream" });
      if (status !== 201) throw new Error(`${status} ${text.slice(0, 300)}`);
    },
    end: () => agent.destroy(),
  };
}

function raw() {
  const idle = [];
  const open = () =>
    new Promise((done, failed) => {
      const socket = net.connect(Number(address), "127.0.0.1", () => done(socket));
      socket.setNoDelay(true);
      socket.on("error", failed);
      idle.all = [...(idle.all ?? []), socket];
    });
  const send = async (kind, bytes, sha256) => {
    const socket = idle.pop() ?? (await open());
    const head = Buffer.alloc(37);
    head.write(kind, 0);
    head.writeUInt32BE(bytes.length, 1);
    if (sha256) Buffer.from(sha256, "hex").copy(head, 5);
    const answered = new Promise((done) => socket.once("data", done));
    socket.write(head);
    socket.write(bytes);
    await answered;
    idle.push(socket);
  };
  return {
    batch: ({ bytes }) => send("E", bytes),
    photo: ({ bytes, sha256 }) => send("P", bytes, sha256),
    end: () => (idle.all ?? []).forEach((socket) => socket.destroy()),
  };
}

const told = { entries_ms: [], photos_ms: [] };
async function timed(list, act) {
  const before = performance.now();
  await act();
  list.push(performance.now() - before);
}

async function drain(tablet) {
  const way = jobs.raw ? raw() : overHttp(tablet);
  for (const batch of tablet.batches) await timed(told.entries_ms, () => way.batch(batch));
  const waiting = [...tablet.photos];
  const sender = async () => {
    for (let photo = waiting.shift(); photo; photo = waiting.shift()) await timed(told.photos_ms, () => way.photo(photo));
  };
  await Promise.all(Array.from({ length: jobs.connections }, sender));
  way.end();
}

const begun = performance.now();
await Promise.all(jobs.tablets.map(drain));
const seconds = (performance.now() - begun) / 1000;
console.log(JSON.stringify({ seconds, ...told, batches: told.entries_ms.length, photos: told.photos_ms.length }));
