/* classes.h - rings measured alike, found. */
#ifndef ADJUST_CLASSES_H
#define ADJUST_CLASSES_H

#include "net.h"

/*
 * Fills classes, ring_class, ring_height and weighted of a net whose rings are known, and puts the
 * readings of each ring into the order of its class's rows: what follows goes through them in this
 * order. Cost: linear in the readings.
 */
fw_status net_find_classes(fw_net *net, fw_error *err);

/*
 * Fills columns, and each row's two places among them, of a class whose rows are known.
 * stamps  in  net_stamps(net) of them, all -1, and so again afterwards
 */
fw_status net_find_columns(const fw_net *net, int *stamps, net_class *class, fw_error *err);
size_t net_stamps(const fw_net *net);

#endif
