/* What is missing before an engine is handed over: open steps, findings, facts that its sheets lack. */
#pragma once
#include "desk/build.h"

struct ew_missing {
  gboolean grave;   /* else it is only a gap on a sheet */
  char *about;      /* "checklist", "main clearance", "serial": owned */
  ew_message *what; /* what to do about it: owned */
};
/* GArray of struct ew_missing, gravest first; the array frees what it holds. engine NULL: the last. */
GArray *ew_desk_missing(struct ew_desk *desk, const char *engine, GError **error);
