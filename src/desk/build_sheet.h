/* Gathers the sheets of a build from the book. */
#pragma once
#include "desk/build.h"
#include "desk/sheet_head.h"
#include "sheet/build_sheet.h"

struct ew_build_sheet_options {
  struct ew_sheet_options sheet;
  enum ew_build_sheet_kind kind;
  const char *engine; /* name or id; NULL: the last */
};
gboolean ew_make_build_sheet(struct ew_desk *desk, const struct ew_build_sheet_options *options,
                             GError **error);
