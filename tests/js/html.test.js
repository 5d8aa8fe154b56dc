import assert from "node:assert/strict";
import test from "node:test";

import { html } from "../../pwa/lib/html.js";

test("a value is never markup", () => {
  const said = `<img src=x onerror="alert('1')"> & more`;

  assert.equal(html`<p>${said}</p>`.text, "<p>&lt;img src=x onerror=&quot;alert(&#39;1&#39;)&quot;&gt; &amp; more</p>");
});

test("a value cannot leave its attribute", () => {
  // prettier-ignore
  assert.equal(html`<b title="${'" onclick="x'}">`.text, '<b title="&quot; onclick=&quot;x">');
});

test("markup within markup stays, lists are joined, nothing is shown for nothing", () => {
  const rows = ["a", "<b>"].map((each) => html`<li>${each}</li>`);

  // prettier-ignore
  assert.equal(html`<ul>${rows}${null}${undefined}${false}${0}</ul>`.text, "<ul><li>a</li><li>&lt;b&gt;</li>0</ul>");
});

test("an object that looks like markup is not taken for it", () => {
  assert.equal(html`${{ text: "<script>" }}`.text, "[object Object]");
});
