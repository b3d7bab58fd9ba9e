/* Line 11 of the acceptance: sweeps over curves that lean, and pulls that drift. */
#pragma once
#include "world.h"

void line_leaning(struct table *table);
