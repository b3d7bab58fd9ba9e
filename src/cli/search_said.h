/* The answer of a search in words. */
#pragma once
#include "base/units.h"
#include "desk/search.h"

/* all: each of a long front, not some of it. */
void ew_call_search_said(const struct ew_search_setup *setup, const struct ew_search_answer *answer,
                         gboolean all, enum ew_unit_system units);
