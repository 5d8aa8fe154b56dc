// Answers the questions of test_zone_geometry.py, one line of JSON for each line of JSON: {ask, given} → the answer.

import { createInterface } from "node:readline";
import { faultOf, gaps, overlaps, pieces, snap } from "../../static/js/zones/geometry.js";

const asked = { faultOf, gaps, overlaps, pieces, snap };

for await (const line of createInterface({ input: process.stdin })) {
  const { ask, given } = JSON.parse(line);
  const answer = asked[ask](...given);
  console.log(JSON.stringify(answer ?? null));
}
