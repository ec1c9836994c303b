/* classes.h - rings measured alike, found. */
#ifndef ADJUST_CLASSES_H
#define ADJUST_CLASSES_H

#include "net.h"

/*
 * Fills classes, ring_class and ring_height of a net whose rings are known, and puts the readings
 * of each ring into the order of its class's rows. Cost: linear in the readings.
 */
fw_status net_find_classes(fw_net *net, fw_error *err);

#endif
