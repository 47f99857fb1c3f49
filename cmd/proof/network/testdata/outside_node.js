// A node on the npm package ws, from the protocol description alone.
//
// usage: node outside_node.js HOST PORT JOINCODE MESSAGES
"use strict"
const fs = require("node:fs")
const path = require("node:path")
const WebSocket = require("ws")

const [host, port, code, messages] = process.argv.slice(2)

function check(what, ok, detail) {
  console.log((ok ? "ok   " : "FAIL ") + what + (ok ? "" : ": " + JSON.stringify(detail)))
  if (!ok) process.exit(1)
}

// documented is a documented message, with fields of its payload changed.
function documented(name, changes) {
  const m = JSON.parse(fs.readFileSync(path.join(messages, name + ".json"), "utf8"))
  Object.assign(m[m.type], changes)
  return m
}

// Line is a connection whose messages are waited for by type.
class Line {
  constructor(options) {
    this.heard = []
    this.waiting = []
    this.ws = new WebSocket(`ws://${host}:${port}/ws/node`, options)
    this.ws.on("message", (data, binary) => {
      if (binary) check("text frames only", false)
      this.heard.push(JSON.parse(data))
      this.waiting.splice(0).forEach(again => again())
    })
    this.closed = new Promise(done => this.ws.on("close", done))
    this.open = new Promise((done, fail) => { this.ws.on("open", done); this.ws.on("error", fail) })
  }
  say(m) { this.ws.send(JSON.stringify(m)) }
  async want(type, ok = () => true) {
    for (;;) {
      const i = this.heard.findIndex(m => m.type === type && ok(m[type]))
      if (i >= 0) return this.heard.splice(i, 1)[0][type]
      await new Promise(done => this.waiting.push(done))
    }
  }
}

async function main() {
  const line = new Line() // offers compression, as the package does
  await line.open
  check("no compression", line.ws.extensions === "", line.ws.extensions)
  line.say(documented("hello", { node: "in-javascript", join: code }))
  const welcome = await line.want("welcome")
  check("welcome", welcome.stored === 0 && welcome.token.length >= 43, welcome)
  line.ws.ping("are you there")
  const pong = await new Promise(done => line.ws.once("pong", done))
  check("pong with the ping's payload", String(pong) === "are you there", String(pong))
  const text = JSON.stringify(documented("reading", { seq: 1 }))
  line.ws.send(text.slice(0, 20), { fin: false })
  line.ws.send(text.slice(20), { fin: true })
  for (let seq = 2; seq <= 50; seq++) line.say(documented("reading", { seq }))
  await line.want("ack", a => a.stored === 50)
  check("50 readings acknowledged, the first in fragments", true)
  const began = Date.now()
  await new Promise(done => line.ws.once("ping", done)) // answered by the package
  check("the hub pings", Date.now() - began < 10000)
  line.ws.close(1000, "good night")
  check("closed with what it was closed with", await line.closed === 1000)

  const back = new Line({ perMessageDeflate: false })
  await back.open
  back.say({ type: "hello", hello: { ...documented("hello").hello, node: "in-javascript", join: undefined, token: welcome.token } })
  const again = await back.want("welcome")
  check("back by its token, told where it stood", again.stored === 50 && again.chair === welcome.chair, again)
  back.ws.send(Buffer.from("{}"))
  check("a binary message is closed with 1003", await back.closed === 1003)

  const foreign = new Line({ origin: "http://evil.example" })
  const refused = await foreign.open.then(() => "open", err => err.message)
  check("another origin is refused", refused.includes("403"), refused)
  console.log("all checks hold")
  process.exit(0)
}

setTimeout(() => check("an answer within 30 s", false), 30000)
main().catch(err => check("no exception", false, err.stack))
