/* Lines 11 and 12 of the acceptance: sweeps over curves that lean, and pulls that drift. */
#pragma once
#include "world.h"

void line_leaning(struct table *table);
void line_narrowing(struct table *table);
