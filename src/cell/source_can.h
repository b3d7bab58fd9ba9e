/* The CAN reader over a file descriptor that delivers one struct can_frame a read: a SocketCAN socket, or
 * a stand-in for it. */
#pragma once
#include "cell/bus_map.h"

/* Takes both. */
struct ew_source *ew_source_can(int fd, struct ew_bus_map *map);
