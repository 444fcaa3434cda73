/* Which storm is shown: its standing water on the map, and its numbers in the details of low spots and structures. */
function makeStorms(page) {
  const { data, layers } = page;
  const picture = data.images.find((image) => image.key === "storm_water");
  page.storm = 0;

  page.valueOf = (layer, index, column) => {
    const own = data.storms[page.storm].values[layer.key];
    const changed = own && own[layer.columns[column][2]];
    return changed ? changed[index] : layers[layer.key].features[index].v[column];
  };
  page.stormName = () => page.units.tell(data.storms[page.storm].name);
  page.stormChanged = [];
  document.querySelectorAll("[name=storm]").forEach((choice) => {
    choice.addEventListener("change", () => {
      page.storm = Number(choice.value);
      picture.overlay.setUrl(data.storms[page.storm].url || picture.url);
      const box = document.querySelector("[data-switch=storm_water]");
      if (!box.checked) { box.click(); }
      page.refill();
      page.stormChanged.forEach((change) => change());
      page.say("Storm shown: " + page.stormName());
    });
  });
}
