// Package slate makes and reads the codes of slates: the cards that are
// photographed before a dish, and the clock that is photographed with each
// body. A Payload says what a code tells, Make draws it as a QR code (ISO/IEC
// 18004), and Read finds the codes in a photograph.
//
// Most frames show no slate, so a picture is first searched for the corner
// marks of a code alone, which is cheap; whatever costs more is tried only
// where marks were seen. What is read is checked twice, by the code's own error
// correction and by a check of ours: a code that isn't ours is no slate.
package slate
