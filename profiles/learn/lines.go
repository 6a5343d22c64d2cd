package learn

import "fmt"

// Profile is the lines of a device profile that describe the parameter, under a
// name of the user's; places are the bytes of its number, from [Places], if they
// are known. What the codes mean is left for the user to say. Nil where a device
// profile has no use for the message.
func (f Finding) Profile(name string, places []int) []string {
	way := f.way(places)
	if way == nil {
		return nil
	}
	lines := append([]string{"[[parameter]]", fmt.Sprintf("name = %q", name), fmt.Sprintf("scale = %q", name)}, way...)
	return append(lines,
		"",
		fmt.Sprintf("[scale.%s]", name),
		fmt.Sprintf("codes = [%d, %d]", f.Least, f.Greatest),
		"# and what they mean: unit = …, linear = { code = …, is = …, step = … }")
}

// way is how the parameter is set: lines of its own table, then those that it
// shares with others.
func (f Finding) way(places []int) []string {
	switch f.Kind {
	case Control:
		return []string{fmt.Sprintf("control = %d", f.Number)}
	case Pair:
		return shared([]string{fmt.Sprintf("control = [%d, %d]", f.Number, f.Low)}, "[control]", f.order())
	case NRPN, RPN:
		value := 7
		if f.Fourteen {
			value = 14
		}
		return shared([]string{fmt.Sprintf("%s = %q", f.Kind, f.parameter())}, fmt.Sprintf("[%s]", f.Kind),
			f.order(), fmt.Sprintf("value = %d", value), fmt.Sprintf("null = %v", f.Null))
	case Exclusive:
		return f.exclusiveWay(places)
	}
	return nil
}

func (f Finding) order() string {
	if f.HighFirst {
		return `order = "high-first"`
	}
	return `order = "low-first"`
}

func (f Finding) exclusiveWay(places []int) []string {
	s := f.Shape
	if s.Count == 0 {
		return nil
	}
	var sum []string
	if s.Sum != nil {
		sum = []string{"", "[checksum]", fmt.Sprintf("kind = %q", s.Sum.Kind)}
	}
	if template := s.Template(places); len(places) > 0 && template != "" {
		address := 0
		for _, i := range places {
			address = address<<7 | int(s.Example[i])
		}
		return append(shared([]string{fmt.Sprintf("address = %d", address)}, "[message.set]", fmt.Sprintf("send = %q", template)), sum...)
	}
	return append([]string{fmt.Sprintf("send = %q", s.Template(nil))}, sum...)
}

// shared puts a table that all parameters share behind a parameter's own lines.
func shared(own []string, table string, lines ...string) []string {
	return append(append(own, "", table), lines...)
}
