"""Why a transfer was broken off: the 32-bit code of an SDO abort (CiA 301).

One device manual has the words of 0x06010001 and 0x06010002 the other way round; here, as in CiA
301, the first is a read of what can only be written.
"""

from enum import IntEnum


class AbortCode(IntEnum):
    """The abort codes of CiA 301; `words` says each."""

    TOGGLE = 0x0503_0000
    TIMED_OUT = 0x0504_0000
    COMMAND_UNKNOWN = 0x0504_0001
    BLOCK_SIZE = 0x0504_0002
    SEQUENCE_NUMBER = 0x0504_0003
    CRC = 0x0504_0004
    OUT_OF_MEMORY = 0x0504_0005
    ACCESS = 0x0601_0000
    WRITE_ONLY = 0x0601_0001
    READ_ONLY = 0x0601_0002
    NO_OBJECT = 0x0602_0000
    CANNOT_BE_MAPPED = 0x0604_0041
    MAPPING_TOO_LONG = 0x0604_0042
    PARAMETER_MISMATCH = 0x0604_0043
    DEVICE_MISMATCH = 0x0604_0047
    HARDWARE = 0x0606_0000
    LENGTH = 0x0607_0010
    TOO_LONG = 0x0607_0012
    TOO_SHORT = 0x0607_0013
    NO_SUBINDEX = 0x0609_0011
    OUT_OF_RANGE = 0x0609_0030
    TOO_HIGH = 0x0609_0031
    TOO_LOW = 0x0609_0032
    MAXIMUM_BELOW_MINIMUM = 0x0609_0036
    RESOURCE = 0x060A_0023
    GENERAL = 0x0800_0000
    CANNOT_BE_STORED = 0x0800_0020
    LOCAL_CONTROL = 0x0800_0021
    NOT_IN_THIS_STATE = 0x0800_0022
    NO_DICTIONARY = 0x0800_0023
    NO_DATA = 0x0800_0024

    @property
    def words(self) -> str:
        """The reason in words."""
        return _WORDS[self]


_WORDS = {
    AbortCode.TOGGLE: "the toggle bit did not alternate",
    AbortCode.TIMED_OUT: "the transfer timed out",
    AbortCode.COMMAND_UNKNOWN: "the command byte is unknown",
    AbortCode.BLOCK_SIZE: "the block size is invalid",
    AbortCode.SEQUENCE_NUMBER: "the sequence number is invalid",
    AbortCode.CRC: "the check sum of the block is wrong",
    AbortCode.OUT_OF_MEMORY: "the device is out of memory",
    AbortCode.ACCESS: "the object does not support this access",
    AbortCode.WRITE_ONLY: "the object can only be written, not read",
    AbortCode.READ_ONLY: "the object can only be read, not written",
    AbortCode.NO_OBJECT: "the device has no such object",
    AbortCode.CANNOT_BE_MAPPED: "the object cannot be mapped into a PDO",
    AbortCode.MAPPING_TOO_LONG: "the mapped objects are longer than a PDO",
    AbortCode.PARAMETER_MISMATCH: "the parameters do not go together",
    AbortCode.DEVICE_MISMATCH: "something inside the device does not go together",
    AbortCode.HARDWARE: "a hardware error prevented the access",
    AbortCode.LENGTH: "the length does not match the data type",
    AbortCode.TOO_LONG: "the value is too long for the data type",
    AbortCode.TOO_SHORT: "the value is too short for the data type",
    AbortCode.NO_SUBINDEX: "the object has no such subindex",
    AbortCode.OUT_OF_RANGE: "the value is out of range",
    AbortCode.TOO_HIGH: "the value is too high",
    AbortCode.TOO_LOW: "the value is too low",
    AbortCode.MAXIMUM_BELOW_MINIMUM: "the maximum is below the minimum",
    AbortCode.RESOURCE: "no resource is free for it",
    AbortCode.GENERAL: "a general error",
    AbortCode.CANNOT_BE_STORED: "the value cannot be taken over or stored",
    AbortCode.LOCAL_CONTROL: "the value cannot be taken over: the device is under local control",
    AbortCode.NOT_IN_THIS_STATE: "the value cannot be taken over in this state of the device",
    AbortCode.NO_DICTIONARY: "the device has no object dictionary, or could not make one",
    AbortCode.NO_DATA: "there is no data",
}
"""What each code means (CiA 301; in words of our own)."""


def abort_words(code: int) -> str:
    """The reason in words; of a code that CiA 301 does not have, that it is the maker's."""
    if code in list(AbortCode):
        return AbortCode(code).words
    return "a code that is not in CiA 301; the maker's manual must tell"
