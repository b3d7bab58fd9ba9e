/* Gathers the sheets of a build from the book. */
#pragma once
#include "desk/build.h"
#include "sheet/build_sheet.h"

struct ew_build_sheet_options {
  enum ew_build_sheet_kind kind;
  const char *engine; /* NULL: the last */
  const char *title;  /* NULL: the sheet's own */
  const char *path;
  enum ew_format format;
  int paper; /* enum ew_paper; -1: the shop's */
  int units; /* enum ew_unit_system; -1: the shop's */
};
gboolean ew_make_build_sheet(struct ew_desk *desk, const struct ew_build_sheet_options *options,
                             GError **error);
