using CsCheck;
using GrooveLab.Music.Meter;

namespace GrooveLab.Music.Tests.Meter;

/// <summary>Meters to try: every size, flat, nested and undivided.</summary>
internal static class Meters
{
    /// <summary>Trees of groups with a given number of units and maximum depth below the root.</summary>
    public static Gen<GroupNode> Trees(int units, int deepest) =>
        units < 2 || deepest == 0
            ? Gen.Const(new GroupNode(units, []))
            : Gen.Frequency((1, Gen.Const(new GroupNode(units, []))), (3, Split(units, deepest)));

    public static readonly Gen<Grouping> Groupings = Gen.Int[1, 64].SelectMany(units => OfUnits(units));

    public static readonly Gen<BarMeter> All = Gen.Select(Gen.Int[1, 64], Gen.Int[1, 64]).SelectMany((above, below) =>
        OfUnits(above).Select(grouping => new BarMeter(new TimeSignature(above, below), grouping)));

    public static Gen<Grouping> OfUnits(int units) => Trees(units, 3).Select(tree => Grouping.Of(tree));

    public static BarMeter Read(string text) => BarMeter.TryParse(text, out var meter, out var problem)
        ? meter
        : throw new FormatException(problem);

    private static Gen<GroupNode> Split(int units, int deepest) =>
        Gen.Int[1, Math.Min(units, 6)].Array[2, 12].SelectMany(weights =>
        {
            var sizes = new List<int>();
            var left = units;
            foreach (var weight in weights)
            {
                var size = Math.Min(weight, left);
                if (size > 0)
                {
                    sizes.Add(size);
                    left -= size;
                }
            }

            sizes[^1] += left;
            return sizes.Select(size => Trees(size, deepest - 1)).Aggregate(
                Gen.Const(new List<GroupNode>()),
                (before, next) => Gen.Select(before, next, (list, node) => new List<GroupNode>(list) { node }))
                .Select(children => new GroupNode(units, children));
        });
}
