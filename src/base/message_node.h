/* Facts that stand inside a larger text that was read already: a kept answer and its notes. Hostile nodes are refused as
 * ew_message_read does. Apart from message.h, which everything includes. */
#pragma once
#include "base/message.h"
#include "base/node.h"

ew_message *ew_message_of_node(const struct ew_node *node, GError **error);
