/* Nodes that are made or changed before they are read: words of a call, what a page turned in what it typed. */
#pragma once
#include "base/node.h"

/* ew_node_member of a map that is the caller's to change. */
struct ew_node *ew_node_member_of(struct ew_node *map, const char *key); /* or NULL */

/* A map to put members into, to be freed with ew_node_free. They read as typed words do. */
struct ew_node *ew_node_new_map(void);
/* Nothing where text is NULL. */
void ew_node_put(struct ew_node *map, const char *key, const char *text);
void ew_node_put_list(struct ew_node *map, const char *key, const char *const *texts);
