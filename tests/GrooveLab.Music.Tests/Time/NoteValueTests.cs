using GrooveLab.Music.Time;
using Xunit;

namespace GrooveLab.Music.Tests.Time;

public sealed class NoteValueTests
{
    // American and British names. Common practice, no source.
    [Theory]
    [InlineData("whole", 1, 1)]
    [InlineData("semibreve", 1, 1)]
    [InlineData("half", 1, 2)]
    [InlineData("minim", 1, 2)]
    [InlineData("quarter", 1, 4)]
    [InlineData("crotchet", 1, 4)]
    [InlineData("eighth", 1, 8)]
    [InlineData("quaver", 1, 8)]
    [InlineData("sixteenth", 1, 16)]
    [InlineData("semiquaver", 1, 16)]
    [InlineData("thirty-second", 1, 32)]
    [InlineData("demisemiquaver", 1, 32)]
    [InlineData("sixty-fourth", 1, 64)]
    [InlineData("hemidemisemiquaver", 1, 64)]
    [InlineData("dotted quarter", 3, 8)]
    [InlineData("dotted crotchet", 3, 8)]
    [InlineData("double dotted half", 7, 8)]
    [InlineData("eighths", 1, 8)]
    [InlineData("Quavers", 1, 8)]
    [InlineData("quarter note", 1, 4)]
    [InlineData("dotted eighth note", 3, 16)]
    [InlineData("halves", 1, 2)]
    [InlineData("3/8", 3, 8)]
    [InlineData("1/12", 1, 12)]
    public void TryParse_NameOrFraction_IsItsLength(string text, long above, long below)
    {
        Assert.True(NoteValue.TryParse(text, out var length));
        Assert.Equal(Span.Of(above, below), length);
    }

    [Theory]
    [InlineData("")]
    [InlineData(null)]
    [InlineData("eigth")]
    [InlineData("dotted")]
    [InlineData("dotted 3/8")]
    [InlineData("triple dotted half")]
    [InlineData("0/8")]
    [InlineData("-1/8")]
    [InlineData("3")]
    public void TryParse_AnythingElse_IsRefused(string? text) => Assert.False(NoteValue.TryParse(text, out _));

    [Theory]
    [InlineData(1, 8, "eighth")]
    [InlineData(3, 8, "dotted quarter")]
    [InlineData(7, 16, "double dotted quarter")]
    [InlineData(1, 12, "1/12")]
    [InlineData(5, 8, "5/8")]
    [InlineData(2, 1, "2/1")]
    public void NameOf_Length_IsItsNameOrItsFraction(long above, long below, string name) =>
        Assert.Equal(name, NoteValue.NameOf(Span.Of(above, below)));

    [Theory]
    [InlineData(1, 16, "sixteenths")]
    [InlineData(1, 2, "halves")]
    [InlineData(3, 4, "dotted halves")]
    [InlineData(1, 12, null)]
    public void PluralOf_Length_IsWhatSeveralAreCalled(long above, long below, string? name) =>
        Assert.Equal(name, NoteValue.PluralOf(Span.Of(above, below)));

    [Fact]
    public void NameOf_EveryNamedLength_ReadsBackAsItself()
    {
        var names = new HashSet<string>(StringComparer.Ordinal);
        foreach (var factor in new[] { Rational.One, new Rational(3, 2), new Rational(7, 4) })
        {
            for (var below = 1; below <= 64; below *= 2)
            {
                var length = Span.Of(1, below) * factor;
                var name = NoteValue.NameOf(length);
                Assert.True(NoteValue.TryParse(name, out var read), name);
                Assert.Equal(length, read);
                Assert.True(names.Add(name), name);
                Assert.DoesNotContain("/", name, StringComparison.Ordinal);
            }
        }
    }

    [Fact]
    public void NameOf_LengthsWithoutAName_ReadBackAsFractions()
    {
        for (var above = 1; above <= 64; above++)
        {
            for (var below = 2; below <= 64; below++)
            {
                if (above % below != 0)
                {
                    Assert.True(NoteValue.TryParse(NoteValue.NameOf(Span.Of(above, below)), out var read));
                    Assert.Equal(Span.Of(above, below), read);
                }
            }
        }
    }
}
