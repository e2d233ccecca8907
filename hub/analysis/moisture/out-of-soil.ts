/** An electrode out of the soil shows next to no moisture, on any scale. */
export const OUT_OF_SOIL = 0.03
