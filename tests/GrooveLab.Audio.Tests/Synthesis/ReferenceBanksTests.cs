using GrooveLab.Testing;
using GrooveLab.Testing.Sound;
using Xunit;

namespace GrooveLab.Audio.Tests.Synthesis;

/// <summary>Every program of a small real bank beside fluidsynth; <c>.ci/banks</c> does the same with larger ones.</summary>
public sealed class ReferenceBanksTests
{
    [Fact]
    public void Render_EveryProgramOfASmallBank_SoundsAsInFluidsynth()
    {
        References.Require(File.Exists(ReferenceRenderer.SmallBank), $"{ReferenceRenderer.SmallBank} is not installed");
        var comparison = BankComparison.Run(ReferenceRenderer.SmallBank);
        Assert.True(comparison.Notes.Count > 400, $"{comparison.Notes.Count} notes sound");
        Assert.Empty(comparison.Faults);
    }
}
