// Package station describes the places where items are weighed and the instruments that stand
// there, as documents that are never changed: a change is a new version beside the old one.
//
// An instrument is a balance, a thermometer, a check piece and the like, with its certificates. A
// station names the instruments that stand together by id and version, with the liquid and the
// hanger in use. Apply fills a draft with what its station knows.
//
// The package knows no clock and no disk. Uncertainties without a k are standard uncertainties;
// an expanded uncertainty stands with its k, as certificates give it.
//
// What an equipment file holds follows ISO/IEC 17025:2017, 6.4 and 6.5.
package station
