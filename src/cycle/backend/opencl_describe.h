/* The words of opencl_shape.h for one shape of engines. Internal to src/cycle/backend. */
#pragma once
#include "cycle/backend/opencl_shape.h"
#include "cycle/state.h"

#define EW_GAS_ROWS (EW_GAS_PARTS * EW_GAS_TERMS + EW_GAS_PARTS + 2)

/* g_free; *count words. EW_SHAPE_PACKS is left 0. Linear in cells, and ends times junctions. */
int32_t *ew_opencl_describe(const struct ew_cycle_laid *laid, gsize *count);
