using System.Globalization;
using System.Xml.Linq;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Exchange.Tests.MusicXml;

/// <summary>The comparison of scores detects every change; otherwise the round trips would prove nothing.</summary>
public sealed class MusicXmlFactsTests
{
    // Changes and omissions without a change of meaning, each with its reason.
    private static readonly HashSet<string> SaysNothingElse = new(StringComparer.Ordinal)
    {
        // Unwritten time belongs to no audible or visible voice or staff.
        "remove forward/voice", "change forward/voice", "remove forward/staff", "change forward/staff",
        // Default: the note's own value.
        "remove normal-type",
        // Default: the right bar line.
        "remove barline@location",
        // The version of the format, not of the music.
        "change score-partwise@version", "remove score-partwise@version",
    };

    public static TheoryData<string> Names => [.. MusicXmlTexts.All.Select(one => one.Name)];

    [Theory]
    [MemberData(nameof(Names))]
    public void Facts_AnyElementLeftOut_Differ(string name)
    {
        var missed = Missed(name, root => root.Descendants().Where(IsInside).Select<XElement, (string, Action)>(element =>
            ($"remove {Called(element)}", element.Remove)));
        Assert.Equal("", string.Join('\n', missed));
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Facts_AnyTextChanged_Differ(string name)
    {
        var missed = Missed(name, root => root.Descendants().Where(element => IsInside(element) && !element.HasElements && element.Value.Length > 0)
            .Select<XElement, (string, Action)>(element => ($"change {Called(element)}", () => element.Value = Other(element.Value))));
        Assert.Equal("", string.Join('\n', missed));
    }

    [Theory]
    [MemberData(nameof(Names))]
    public void Facts_AnyAttributeChangedOrLeftOut_Differ(string name)
    {
        var missed = Missed(name, root => root.DescendantsAndSelf().Where(IsInside).Attributes()
            .Where(attribute => !MusicXmlFacts.OutsideAttributes.Contains(attribute.Name.LocalName))
            .SelectMany<XAttribute, (string, Action)>(attribute =>
            [
                ($"change {attribute.Parent!.Name.LocalName}@{attribute.Name.LocalName}", () => attribute.Value = Other(attribute.Value)),
                ($"remove {attribute.Parent!.Name.LocalName}@{attribute.Name.LocalName}", attribute.Remove),
            ]));
        Assert.Equal("", string.Join('\n', missed));
    }

    [Fact]
    public void Facts_OneNoteValueSyllableOrMarkOfARealScoreChanged_Differ()
    {
        var files = Directory.GetFiles(References.RequireData("openscore-lieder"), "*.musicxml");
        var kinds = new[]
        {
            "step", "alter", "octave", "duration", "type", "text", "syllabic", "voice", "staff", "slur", "tied", "tie", "dot", "accent", "staccato", "fermata",
            "wedge", "words", "p", "arpeggiate", "beats", "fifths", "grace", "rest", "chord", "bar-style",
        };
        foreach (var kind in kinds)
        {
            var file = files.First(file => MusicXmlFile.Open(file).Descendants(kind).Any());
            var before = MusicXmlFacts.Of(MusicXmlFile.Open(file));
            var changed = MusicXmlFile.Open(file);
            var all = changed.Descendants(kind).Where(element => element.Parent!.Name.LocalName != "forward").ToList();
            var element = all[all.Count / 2];
            if (element.Value.Length > 0 && !element.HasElements)
            {
                element.Value = kind == "step" ? element.Value == "A" ? "B" : "A" : Other(element.Value);
            }
            else
            {
                element.Remove();
            }

            Assert.False(Same(before, changed), kind);
        }
    }

    private static bool IsInside(XElement element) =>
        element.AncestorsAndSelf().All(one => !MusicXmlFacts.OutsideElements.Contains(one.Name.LocalName));

    private static string Called(XElement element) => element.Name.LocalName is "voice" or "staff" && element.Parent!.Name.LocalName == "forward"
        ? $"forward/{element.Name.LocalName}"
        : element.Name.LocalName;

    private static string Other(string value) =>
        decimal.TryParse(value, NumberStyles.Float, CultureInfo.InvariantCulture, out var number) ? (number + 1).ToString(CultureInfo.InvariantCulture)
        : value == "yes" ? "no"
        : value == "no" ? "yes"
        : value + "x";

    private static bool Same(IReadOnlyList<string> before, XDocument changed)
    {
        try
        {
            return MusicXmlFacts.Of(changed).SequenceEqual(before, StringComparer.Ordinal);
        }
        catch (Exception found) when (found is FormatException or NullReferenceException or DivideByZeroException)
        {
            // A score that cannot be walked has different content.
            return false;
        }
    }

    private static IEnumerable<string> Missed(string name, Func<XElement, IEnumerable<(string Name, Action Change)>> changes)
    {
        var text = MusicXmlTexts.All.Single(one => one.Name == name).Score.ToString(SaveOptions.DisableFormatting);
        var before = MusicXmlFacts.Of(MusicXmlFile.Parse(text));
        var count = changes(MusicXmlFile.Parse(text).Root!).Count();
        Assert.True(count > 10);
        var missed = new SortedSet<string>(StringComparer.Ordinal);
        for (var i = 0; i < count; i++)
        {
            var changed = MusicXmlFile.Parse(text);
            var (what, change) = changes(changed.Root!).ElementAt(i);
            change();
            if (Same(before, changed) && !SaysNothingElse.Contains(what))
            {
                missed.Add(what);
            }
        }

        return missed;
    }
}
