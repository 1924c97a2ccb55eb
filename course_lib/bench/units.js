// The switch between workshop and metric units, the same on every page. `chosen` is called with the id of a system.

function drawUnits(group, units, name, chosen) {
  const { put, end } = pen(group);
  put("legend", "label", {}, units.label);
  for (const [id, text] of units.options) {
    const label = pen(put("label", id));
    label.put("input", "radio", {
      type: "radio", name: `${name}-units`, value: id, checked: units.value === id, onchange: () => chosen(id),
    });
    label.put("span", "text", {}, text);
  }
  end();
}
