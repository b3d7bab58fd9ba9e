/* "spark=30 deg": one field of a record, by name. */
#pragma once
#include "base/field.h"
#include "pull/setup.h"

/* "name=value" each, on any record; an empty value forgets the field. */
gboolean ew_apply_record_sets(const struct ew_fields *table, void *record, const char *const *sets,
                              GError **error);
gboolean ew_apply_sets(struct ew_setup *setup, const char *const *sets, GError **error);
