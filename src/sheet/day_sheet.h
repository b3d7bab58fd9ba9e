/* The day sheet: every pull of a test day in its order with what was changed, notes and marks, and the answers. Draws
 * what it is handed; texts only. */
#pragma once
#include "sheet/flow.h"

#define EW_DAY_PULL_CELLS                                                                          \
  6 /* pull, time, purpose, to, mean torque, what was changed or set aside */
#define EW_DAY_NOTE_CELLS   3 /* time, text, who */
#define EW_DAY_ANSWER_CELLS 2
struct ew_day_paper {
  struct ew_flow_head head;
  const char *torque_head; /* with its unit */
  GPtrArray *pulls, *notes,
      *answers; /* char*: cells row by row; an answer, and what lies behind it ("") */
};
gboolean ew_day_sheet_draw(const struct ew_day_paper *paper, const char *path,
                           enum ew_format format, enum ew_paper size, GError **error);
