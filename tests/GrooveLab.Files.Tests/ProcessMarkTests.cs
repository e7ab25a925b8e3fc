using Xunit;

namespace GrooveLab.Files.Tests;

public sealed class ProcessMarkTests : Sandbox
{
    [Fact]
    public void Presence_OwnMark_IsRunning() => Assert.Equal(ProcessPresence.Running, ProcessMark.Presence(ProcessMark.Own));

    [Theory]
    [InlineData(0, ProcessPresence.Unknown)]
    [InlineData(3, ProcessPresence.Ended)]
    public void Presence_AnotherMachineOrAnEarlierProcessOfTheNumber_IsToldApart(int part, ProcessPresence expected)
    {
        var parts = ProcessMark.Own.Split('-');
        parts[part] = "1";

        Assert.Equal(expected, ProcessMark.Presence(string.Join('-', parts)));
    }

    [Fact]
    public void Presence_MachineStartedAgain_IsEnded()
    {
        NeedLinux();
        var parts = ProcessMark.Own.Split('-');
        parts[1] = "00000000";

        Assert.Equal(ProcessPresence.Ended, ProcessMark.Presence(string.Join('-', parts)));
    }

    [Theory]
    [InlineData("")]
    [InlineData("notes")]
    [InlineData("a-b-c-d")]
    public void Presence_OtherWord_IsUnknown(string word) => Assert.Equal(ProcessPresence.Unknown, ProcessMark.Presence(word));
}
