/* A mend, which is a command ("pull amend 7 --units torque=lb-ft"), in the parts that a form asks for, so that a page can offer it as
 * a button. Of commands that this program writes itself (pull/plausible_kinds.h, desk/book_check.c); a place that only a
 * person can fill ("... hPa", UNIT, "FACTOR rpm") has no value and is what the form shows in its field. */
#pragma once
#include "base/json_writer.h"

/* The members `mend` (the command, without the program's name; null: none) and `asks`: of each `what` ("set", "units", "engine", "at",
 * "columns", "cell", "discard", "again"), `name` (of the fact or channel; null where there is one only), `value` (null: to be filled), `shows`.
 * Empty where the page has no form for it. */
void ew_mend_json(const char *mend, struct ew_json *json);
