// Sends batches to the log's route or to a document server: each tablet keeps its order, all tablets at once.
// Reads jobs from a file: [{path, headers, bodies: [text]}]; prints {seconds, requests, worst_ms, p99_ms}.
import { readFileSync } from "node:fs";
import http from "node:http";

const [, , base, file] = process.argv;
const agent = new http.Agent({ keepAlive: true, maxSockets: 64 });
const tablets = JSON.parse(readFileSync(file, "utf8"));

function post(path, headers, body) {
  return new Promise((done, failed) => {
    const request = http.request(base + path, { method: "POST", agent, headers: { ...headers, "content-length": Buffer.byteLength(body) } }, (answer) => {
      const pieces = [];
      answer.on("data", (piece) => pieces.push(piece));
      answer.on("end", () => done({ status: answer.statusCode, text: Buffer.concat(pieces).toString() }));
    });
    request.on("error", failed);
    request.end(body);
  });
}

const took = [];
async function send(tablet) {
  for (const { path, body } of tablet.batches) {
    const before = performance.now();
    const { status, text } = await post(path, tablet.headers, body);
    took.push(performance.now() - before);
    if (status !== tablet.wanted) throw new Error(`${status} ${text.slice(0, 300)}`);
  }
}

const begun = performance.now();
await Promise.all(tablets.map(send));
const seconds = (performance.now() - begun) / 1000;
took.sort((a, b) => a - b);
const at = (share) => Math.round(took[Math.min(took.length - 1, Math.floor(took.length * share))] * 10) / 10;
console.log(JSON.stringify({ seconds, requests: took.length, p50_ms: at(0.5), p99_ms: at(0.99), worst_ms: at(1) }));
agent.destroy();
