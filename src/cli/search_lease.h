/* One worker of a search whose tasks a database hands out. Its options: EW_LEASE_OPTIONS. */
#pragma once
#include "cli/command.h"
#include "desk/search.h"

gboolean ew_call_search_lease(const struct ew_call *call, const struct ew_search_setup *setup,
                              GError **error);
