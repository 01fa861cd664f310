// Package fleet states in SQL what comparing runs does first: it reduces the runs of a
// session to their median, and the sessions of a machine to theirs. So the runs stay in
// the engine that holds them, and what is read here is one row a session, or a machine,
// and metric (compare.Reduction).
//
// Query.SQL is one SELECT. It holds no data but what the policy says of metrics.
package fleet
