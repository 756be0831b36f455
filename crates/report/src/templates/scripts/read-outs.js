// Read-outs: the value nearest to the pointer, or stepped through with the arrow keys, beside the figure's mark.
(() => {
  const NS = "http://www.w3.org/2000/svg";

  function attach(holder) {
    const svg = holder.querySelector("svg"), data = JSON.parse(holder.querySelector("script.points").textContent);
    const tip = document.createElement("div"), ring = document.createElementNS(NS, "circle");
    tip.className = "tip";
    tip.setAttribute("role", "status");
    tip.hidden = true;
    for (const [name, value] of [["class", "read"], ["r", "40"], ["fill", "none"], ["stroke", "currentColor"], ["stroke-width", "16"]]) {
      ring.setAttribute(name, value);
    }
    ring.style.display = "none";
    svg.append(ring);
    holder.append(tip);
    // Keys begin on a curve or mark rather than the edge of a band.
    let now = [Math.max(0, data.series.findIndex((series) => !series.edge)), 0];

    function show(series, index) {
      const { name, points } = data.series[series], [x, y, across, up] = points[index];
      now = [series, index];
      ring.setAttribute("cx", x);
      ring.setAttribute("cy", y);
      ring.style.display = "";
      const value = (label, text) => label ? `${label} ${text}` : text;
      put(tip, `${name}: ${value(data.y, up)} at ${value(data.x, across)}`);
      tip.hidden = false;
      const box = svg.viewBox.baseVal, scale = svg.clientWidth / box.width;
      const left = Math.min(x * scale + 12, holder.clientWidth - tip.offsetWidth);
      const above = y * scale - tip.offsetHeight - 10;
      tip.style.left = Math.max(0, left) + "px";
      tip.style.top = (above < 0 ? y * scale + 12 : above) + "px";
    }

    function hide() {
      ring.style.display = "none";
      tip.hidden = true;
    }

    function nearest(event) {
      const frame = svg.getBoundingClientRect(), scale = svg.viewBox.baseVal.width / frame.width;
      const x = (event.clientX - frame.left) * scale, y = (event.clientY - frame.top) * scale;
      let best = null;
      data.series.forEach((series, s) => series.points.forEach((point, i) => {
        const far = Math.hypot(point[0] - x, point[1] - y) * (series.edge ? 2 : 1);
        if (!best || far < best.far) best = { far, s, i };
      }));
      if (best && best.far < 60 * 8) show(best.s, best.i); else hide();
    }

    function step(event) {
      const [series, index] = now, last = data.series[series].points.length - 1;
      const to = (s, i) => [s, Math.max(0, Math.min(i, data.series[s].points.length - 1))];
      const next = {
        ArrowRight: () => to(series, index + 1), ArrowLeft: () => to(series, index - 1), Home: () => to(series, 0),
        End: () => to(series, last), ArrowDown: () => to(Math.min(series + 1, data.series.length - 1), index),
        ArrowUp: () => to(Math.max(series - 1, 0), index),
      }[event.key];
      if (event.key === "Escape") hide();
      if (!next) return;
      event.preventDefault();
      show(...next());
    }

    holder.addEventListener("pointermove", nearest);
    holder.addEventListener("pointerdown", nearest);
    holder.addEventListener("pointerleave", hide);
    holder.addEventListener("keydown", step);
    holder.addEventListener("focus", () => { if (tip.hidden) show(...now); });
    holder.addEventListener("blur", hide);
    holder.tabIndex = 0;
  }

  for (const script of document.querySelectorAll("script.points")) attach(script.parentElement);
})();
