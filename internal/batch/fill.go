package batch

import (
	"reflect"

	"wreath/internal/determination"
)

// fill gives the draft the fields of base that it leaves out, group by group. A list or a text is
// taken whole. What is taken is shared with base: a draft is not changed once it is complete.
func fill(d, base *determination.Draft) {
	fillGroup(reflect.ValueOf(d).Elem(), reflect.ValueOf(base).Elem())
}

func fillGroup(d, base reflect.Value) {
	for i := range d.NumField() {
		own, other := d.Field(i), base.Field(i)
		switch {
		case own.Kind() == reflect.Slice && own.Len() > 0:
		case own.IsZero() || own.Kind() == reflect.Slice:
			own.Set(other)
		case own.Kind() == reflect.Pointer && own.Type().Elem().Kind() == reflect.Struct && !other.IsNil():
			fillGroup(own.Elem(), other.Elem())
		}
	}
}
