"""The rig before pick-up: statics, coupled equilibrium, and which drop or rise carries the trailer in the
band and level."""
