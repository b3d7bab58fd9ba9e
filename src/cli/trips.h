/* What has tripped, from the book: the list, and one trip with the samples around it. */
#pragma once
#include "cli/command.h"

gboolean ew_say_trips(const struct ew_call *call, struct ew_book *book, GError **error);
/* The options --trip, --before, --after. */
gboolean ew_say_trip(const struct ew_call *call, struct ew_book *book, GError **error);
