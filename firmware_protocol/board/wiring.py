"""Which pin does what, and which way the board talks. The one file to edit for another wiring.

Numbers are GPn of an RP2040 board. Every output has a pull-down in hardware, so that a board in reset,
or none at all, means motor off. The wiring page of the handbook has this table with words.
"""

LINK_UART_TX = 0
LINK_UART_RX = 1
TABLE_SENSOR = 2
LAP_SENSOR = 3
ESTOP_CONTACT = 4
PEDAL = 5
POWER_READBACK = 6
ENABLE = 7
CONTACTOR = 8
SPEED = 9
BUZZER = 10
LAMP = 11
SERVICE_JUMPER = 22
LOAD_ADC = 26

LINK = "usb"
UART_BAUD = 115200
SPEED_PWM_HZ = 5000
WATCHDOG_MS = 1000
