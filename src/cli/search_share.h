/* A worker's share of a search: which one it is, and what it says at the end. Inside cli/search. */
#pragma once
#include "cli/command.h"
#include "desk/search.h"

gboolean ew_call_search_share(const struct ew_call *call, const struct ew_search_setup *setup,
                              GError **error);
