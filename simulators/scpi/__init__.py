"""An own SCPI-99 and IEEE 488.2 front: headers, parameters, status registers, the error queue."""
