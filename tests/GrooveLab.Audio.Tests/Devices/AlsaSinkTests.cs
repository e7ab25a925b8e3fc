using System.Runtime.InteropServices;
using GrooveLab.Audio.Devices;
using GrooveLab.Testing;
using Xunit;

namespace GrooveLab.Audio.Tests.Devices;

public sealed class AlsaSinkTests
{
    public AlsaSinkTests() =>
        References.Require(
            OperatingSystem.IsLinux() && NativeLibrary.TryLoad("libasound.so.2", out _), "The ALSA library (libasound2) is not installed");

    [Theory]
    [InlineData(40)]
    [InlineData(20)]
    [InlineData(10)]
    public void Open_NullDevice_GrantsEightPeriods(int milliseconds)
    {
        using var sink = AlsaSink.Open("null", 48000, milliseconds);
        Assert.Equal(48 * milliseconds, sink.BufferFrames);
        Assert.Equal(6 * milliseconds, sink.PeriodFrames);
    }

    [Fact]
    public async Task Open_NullDevice_PlaysToTheEnd()
    {
        CountingSource source = new(100_000);
        using BlockingOutput output = new(AlsaSink.Open("null", 48000, 40), source, raisePriority: false);
        output.Start();

        await output.Completion.WaitAsync(TimeSpan.FromSeconds(60), TestContext.Current.CancellationToken);
        Assert.Equal(AudioOutputState.Ended, output.State);
        Assert.Equal(100_000, source.Position);
    }

    [Fact]
    public void Open_UnknownName_SaysThatThereIsNone()
    {
        var none = Assert.Throws<AudioDeviceException>(() => AlsaSink.Open("no-such-device", 48000, 40));
        Assert.Equal(AudioDeviceErrorKind.NoDevice, none.Kind);
        Assert.Contains("no-such-device", none.Message, StringComparison.Ordinal);
        Assert.True(none.RetryHelps);
    }

    [Fact]
    public void Open_CardThatIsNotThere_SaysThatThereIsNone()
    {
        var none = Assert.Throws<AudioDeviceException>(() => AlsaSink.Open("hw:31,7", 48000, 40));
        Assert.Equal(AudioDeviceErrorKind.NoDevice, none.Kind);
    }

    [Fact]
    public void List_ThisMachine_NamesNoDeviceWithoutAClock()
    {
        var devices = AlsaSink.List();
        Assert.DoesNotContain(devices, device => device.Name == "null");
        Assert.All(devices, device => Assert.DoesNotContain('\n', device.Description));
    }
}
