/* The table of trade spellings of units, for base/units.c alone. */
#pragma once
#include "base/units.h"

#define EW_SPELLING_ANY_KIND EW_KINDS_COUNT /* the spelling fixes the dimension, not the kind */

/* What the trade writes, what it means to udunits2, and the kind when the spelling fixes it. */
struct ew_unit_spelling {
  const char *text, *meaning; /* text: in small letters */
  enum ew_kind kind;
};

/* The row of a spelling in small letters; NULL when the table has none. */
const struct ew_unit_spelling *ew_unit_spelling_find(const char *lower);
/* What to write instead of a spelling that means two things, or that udunits2 would take for something else; NULL when
 * the spelling is not one of these. */
const char *ew_unit_trap(const char *lower);
