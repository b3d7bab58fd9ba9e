/* Nodes that are changed before they are read: what a page turned is put into what it typed. */
#pragma once
#include "base/node.h"

/* ew_node_member of a map that is the caller's to change. */
struct ew_node *ew_node_member_of(struct ew_node *map, const char *key); /* or NULL */
