/* What the tests of this folder share. */
#pragma once
#include "../reference/near.h"
