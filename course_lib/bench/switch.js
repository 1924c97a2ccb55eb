// The switch of units on a page of its own, above the steps of a worked case.

export default {
  render({ model, el }) {
    const root = document.createElement("div");
    root.className = "worked-step worked-units";
    el.append(root);
    const name = Math.random().toString(36).slice(2);
    const draw = () => {
      const { put, end } = pen(root);
      drawUnits(put("fieldset", "units"), model.get("units"), name, (system) => model.send({ system }));
      end();
    };
    model.on("change:units", draw);
    const loud = keepKeys(root);
    draw();
    return () => {
      model.off("change:units", draw);
      loud();
    };
  },
};
