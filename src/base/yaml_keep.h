/* A YAML text a person wrote, changed in place: what has a new value is written where the old one
 * stood, and every remark stays.
 *
 * The marks of libyaml (YAML 1.1, its manual's `yaml_mark_t`) say where each value stands. What cannot
 * be placed is written again, with the remarks under it; the result is read again and compared before
 * it is handed back. */
#pragma once
#include "base/node.h"

/* `text` with the values of the map `wanted`; free with g_free. Members that `wanted` lacks go, new
 * ones come after the last of their map. A text that is not YAML is kept as remarks. */
char *ew_yaml_keep(const char *text, const struct ew_node *wanted);
/* The map alone, every text in quotes. */
char *ew_yaml_write(const struct ew_node *map);
/* The same members with the same texts, in any order? */
gboolean ew_node_equal(const struct ew_node *a, const struct ew_node *b);
