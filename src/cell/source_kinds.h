/* Every kind of source, in the order in which help lists them. */
#pragma once
#include "cell/source.h"

#define EW_SOURCE_KINDS(X)                                                                         \
  X(stdin) X(file) X(tcp) X(udp) X(serial) X(modbus) X(modbus_rtu) X(can) X(mqtt) X(practice)

#define X(kind) extern const struct ew_source_class ew_source_class_##kind;
EW_SOURCE_KINDS(X)
#undef X
