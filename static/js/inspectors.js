import { drawCharts } from "./charts.js";

drawCharts(document.querySelector("[data-plotly]").dataset.plotly);
