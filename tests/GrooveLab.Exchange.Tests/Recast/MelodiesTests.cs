using GrooveLab.Music.Meter;
using GrooveLab.Music.Notation;
using Xunit;

namespace GrooveLab.Exchange.Tests.Recast;

/// <summary>Twenty syncopated melodies in other meters, compared with nearest places by counts that know nothing of how the places were found.</summary>
public sealed class MelodiesTests
{
    public static TheoryData<string> All => [.. Melodies.Names];

    [Fact]
    public void Names_AreTwenty() => Assert.Equal(20, Melodies.Names.Count);

    [Theory]
    [MemberData(nameof(All))]
    public void Chart_OfAMelody_HasFourToEightBarsAndAllNotesAreSung(string name)
    {
        var section = Assert.Single(Melodies.Chart(name).Sections);
        var tune = section.Tune!;

        Assert.InRange(section.Bars.Count, 4, 8);
        Assert.All(section.Bars, bar => Assert.Equal(new TimeSignature(4, 4), bar.Meter.Signature));
        Assert.NotEmpty(tune.Verses);
        Assert.All(tune.Verses, verse => Assert.Equal(tune.Notes.Count, verse.Sum(syllable => syllable?.Notes ?? 0)));
        Assert.All(tune.Verses, verse => Assert.True(verse.Count(syllable => syllable is { Stress: not Stress.Unknown }) >= verse.Count(syllable => syllable is not null) * 3 / 4));
    }
}
